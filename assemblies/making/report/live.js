// While the job file is watched: ask the server on this machine what is new, say what is wrong with the file, reload when there is more to see.
"use strict";
(() => {
  const note = document.getElementById("live");
  const shown = Number(note.dataset.version); // of this page, not of the first answer: the state may have moved on while it loaded
  const kept = sessionStorage.getItem("rockershed-place");
  if (kept) {
    const [y, wheel, rack] = JSON.parse(kept);
    sessionStorage.removeItem("rockershed-place");
    if (window.corner && document.getElementById("wheel")) window.corner.setPose(wheel, rack);
    window.scrollTo(0, y);
  }
  async function look() {
    try {
      const now = await (await fetch("state", { cache: "no-store" })).json();
      if (now.version !== shown) {
        const p = window.corner ? window.corner.pose() : { wheel: 0, rack: 0 };
        sessionStorage.setItem("rockershed-place", JSON.stringify([window.scrollY, p.wheel, p.rack]));
        location.reload();
        return;
      }
      note.hidden = !now.error && !now.busy;
      note.className = now.error ? "wrong" : "";
      note.textContent = now.error ? "The job file cannot be used; this page shows the last good state.\n" + now.error : now.busy || "";
    } catch (e) {
      note.hidden = false;
      note.className = "";
      note.textContent = "The watch has ended; this page stays as it is.";
    }
    setTimeout(look, 250);
  }
  look();
})();
