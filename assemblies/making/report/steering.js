// The lock slider of the steering section: what both wheels do at a rack place, read off the page's own data.
(() => {
  const slider = document.getElementById("lock"), says = document.getElementById("lock-says");
  const data = JSON.parse(document.getElementById("data").textContent).lock;
  if (!slider || !says || !data) return;
  const sign = v => { const size = Math.abs(v).toFixed(1); return (size === "0.0" ? "" : v > 0 ? "+" : "−") + size; };
  slider.addEventListener("input", () => {
    const k = Number(slider.value), share = data.ackermann[k];
    says.textContent = `rack ${sign(data.rack_mm[k])} mm, inner wheel ${data.inner_deg[k].toFixed(1)} deg, outer ${data.outer_deg[k].toFixed(1)} deg`
      + (share === null ? "" : `, Ackermann ${fixed(100 * share, 0)} %`);
  });
})();
