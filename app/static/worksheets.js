// The mark sheet: Enter and arrows move in a column, each cell is saved as it is left.
const form = document.querySelector("form[data-cells]");
const state = form?.querySelector("[data-state]");
const say = (text, wrong) => { state.textContent = text; state.classList.toggle("error", Boolean(wrong)); };

const cells = (input) => [...input.closest("table").querySelectorAll("tbody tr")]
  .map((row) => row.cells[input.closest("td").cellIndex]?.querySelector("input"));

const move = (input, by) => {
  const column = cells(input);
  const next = column[column.indexOf(input) + by];
  if (next) { next.focus(); next.select(); }
};

const save = async (input) => {
  const body = new URLSearchParams({
    csrf_token: form.elements.csrf_token.value,
    meeting: form.elements.meeting.value,
    [input.name]: input.value,
  });
  try {
    const answer = await fetch(form.action, { method: "POST", body, headers: { "X-Part": "cell" } });
    const text = await answer.text();
    if (answer.status === 422) {
      input.setAttribute("aria-invalid", "true");
      say(text, true);
    } else if (answer.ok) {
      input.removeAttribute("aria-invalid");
      input.classList.add("saved");
      say(`${input.getAttribute("aria-label")}: saved.`);
    } else {
      throw new Error(String(answer.status));
    }
  } catch {
    say("That cell could not be saved just now. Nothing you typed is lost: press “Save all marks”.", true);
  }
};

form?.querySelectorAll("table.grid input").forEach((input) => {
  input.addEventListener("change", () => save(input));
  input.addEventListener("keydown", (event) => {
    const by = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    move(input, by);
  });
});
document.querySelectorAll("[data-with-script]").forEach((item) => { item.hidden = false; });
