// Dragging an activity onto a meeting fills the form; the form does the rest.
const places = document.querySelector("[data-places]");
const meeting = document.querySelector("select[name=meeting]");
if (places && meeting) {
  places.hidden = false;
  const choose = (cell) => {
    meeting.value = cell.dataset.meeting;
    places.querySelectorAll(".chosen").forEach((other) => other.classList.remove("chosen"));
    cell.classList.add("chosen");
    meeting.form.querySelector("button").focus();
  };
  document.querySelectorAll("[data-activity]").forEach((item) => {
    item.addEventListener("dragstart", (event) => event.dataTransfer.setData("text/plain", "activity"));
  });
  places.querySelectorAll("[data-meeting]").forEach((cell) => {
    cell.addEventListener("dragover", (event) => { event.preventDefault(); cell.classList.add("over"); });
    cell.addEventListener("dragleave", () => cell.classList.remove("over"));
    cell.addEventListener("drop", (event) => { event.preventDefault(); cell.classList.remove("over"); choose(cell); });
  });
}
