// While the job file is watched: ask the server on this machine what is new, say what is wrong with the file, reload when there is more to see.
"use strict";
(() => {
  const note = document.getElementById("live"), title = document.title;
  const shown = Number(note.dataset.version); // of this page, not of the first answer: the state may have moved on while it loaded
  const sections = [...document.querySelectorAll("main > section[id]")];
  const name = d => `${d.closest("section, header, aside")?.id || ""} ${d.querySelector("summary").textContent.replace(/[0-9]+/g, "")}`;
  const folds = new Map([...document.querySelectorAll("details")].map(d => [d, name(d)]));
  const kept = JSON.parse(sessionStorage.getItem("rockershed-place") || "{}");
  sessionStorage.removeItem("rockershed-place");
  history.scrollRestoration = "manual";

  // what is said lies over nothing: the page, and whatever is jumped to, begins below it
  let high = 0;
  function tell(wrong, text) {
    note.hidden = !text;
    note.className = wrong ? "wrong" : "";
    note.textContent = text;
    document.title = (wrong ? "! " : text ? "… " : "") + title;
    document.body.style.paddingTop = document.documentElement.style.scrollPaddingTop = `${note.offsetHeight}px`;
    if (window.scrollY) window.scrollBy({ top: note.offsetHeight - high, behavior: "instant" });
    high = note.offsetHeight;
  }

  tell(note.className === "wrong", note.textContent);

  // the place stays over a reload: what is folded open, the pose, the eye, and the part of the page that is read, wherever it now begins
  if (kept.open) {
    for (const [d, which] of folds) if (which in kept.open) d.open = kept.open[which];
    if (window.corner && document.getElementById("wheel")) window.corner.setPose(kept.pose.wheel, kept.pose.rack);
    if (window.corner && kept.eye) window.corner.eye(kept.eye);
    const read = document.getElementById(kept.read);
    window.scrollTo({ top: read ? read.getBoundingClientRect().top + window.scrollY + kept.past : kept.y, behavior: "instant" });
  }

  function leave() {
    const read = sections.filter(s => s.getBoundingClientRect().top < window.innerHeight / 2).pop();
    sessionStorage.setItem("rockershed-place", JSON.stringify({
      y: window.scrollY, read: read ? read.id : "", past: read && -read.getBoundingClientRect().top,
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
      tell(!!now.error, [now.error, now.busy].filter(Boolean).join("\n"));
    } catch (e) {
      ended = true;
      tell(true, "The watch has ended; this page stays as it is, whatever the job file says from now on.");
      for (const p of document.querySelectorAll(".lacks")) p.textContent = "Not worked out: the watch has ended. What lies in the folder may be of an earlier state.";
    }
    setTimeout(look, ended ? 2000 : 250);
  }
  look();
})();
