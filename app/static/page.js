// Projector size: one key or button makes type one step larger; the choice stays on this machine.
const root = document.documentElement;
const remembered = () => { try { return localStorage.getItem("projector") === "1"; } catch { return false; } };
const show = (on) => root.classList.toggle("projector", on);
const toggle = () => {
  const on = !root.classList.contains("projector");
  show(on);
  try { localStorage.setItem("projector", on ? "1" : "0"); } catch { /* private windows forget */ }
};
show(remembered());
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea, [contenteditable]");
  if (event.key === "p" && !typing && !event.ctrlKey && !event.metaKey && !event.altKey) toggle();
});
document.querySelectorAll("[data-projector]").forEach((button) => button.addEventListener("click", toggle));
document.querySelector(".error-summary")?.focus();
document.querySelectorAll("[data-print]").forEach((button) => {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
});
