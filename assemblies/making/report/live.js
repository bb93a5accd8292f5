// While the job file is watched: ask the server on this machine what is new, say what is wrong with the file, reload when there is more to see.
"use strict";
(() => {
  const note = document.getElementById("live"), title = document.title;
  const shown = Number(note.dataset.version); // of this page, not of the first answer: the state may have moved on while it loaded
  const sections = [...document.querySelectorAll("main > section[id]")];
  const name = d => `${d.closest("section, header, aside")?.id || ""} ${d.querySelector("summary").textContent.replace(/[0-9]+/g, "")}`;
  const folds = new Map([...document.querySelectorAll("details")].map(d => [d, name(d)]));

  // the place stays: what is folded open, the pose, the eye, and the part of the page that is read, wherever it now begins
  const kept = JSON.parse(sessionStorage.getItem("rockershed-place") || "{}");
  sessionStorage.setItem("rockershed-place", JSON.stringify({ open: kept.open }));
  for (const [d, which] of folds) if (kept.open && which in kept.open) d.open = kept.open[which];
  if (kept.pose) {
    if (window.corner && document.getElementById("wheel")) window.corner.setPose(kept.pose.wheel, kept.pose.rack);
    if (window.corner && kept.eye) window.corner.eye(kept.eye);
    const read = kept.read && document.getElementById(kept.read);
    window.scrollTo(0, read ? read.getBoundingClientRect().top + window.scrollY + kept.past : kept.y);
  }

  function leave() {
    const read = sections.filter(s => s.getBoundingClientRect().top < window.innerHeight / 2).pop();
    sessionStorage.setItem("rockershed-place", JSON.stringify({
      y: window.scrollY, read: read && read.id, past: read && -read.getBoundingClientRect().top,
      pose: window.corner ? window.corner.pose() : { wheel: 0, rack: 0 }, eye: window.corner && window.corner.eye(),
      open: { ...kept.open, ...Object.fromEntries([...folds].map(([d, which]) => [which, d.open])) },
    }));
    location.reload();
  }

  let ended = false;
  async function look() {
    try {
      const now = await (await fetch("state", { cache: "no-store" })).json();
      if (ended || now.version !== shown) { leave(); return; } // another watch counts anew
      note.hidden = !now.error && !now.busy;
      note.className = now.error ? "wrong" : "";
      note.textContent = [now.error, now.busy].filter(Boolean).join("\n");
      document.title = (now.error ? "! " : now.busy ? "… " : "") + title;
    } catch (e) {
      ended = true;
      note.hidden = false;
      note.className = "wrong";
      note.textContent = "The watch has ended; this page stays as it is, whatever the job file says from now on.";
      document.title = `! ${title}`;
      for (const p of document.querySelectorAll(".lacks")) p.textContent = "Not worked out: the watch has ended. What lies in the folder may be of an earlier state.";
    }
    setTimeout(look, 250);
  }
  look();
})();
