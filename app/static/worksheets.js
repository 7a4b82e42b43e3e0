// The mark sheet: Enter and arrows move from cell to cell, each cell is saved as it is left.
const form = document.querySelector("form[data-cells]");
const state = form?.querySelector("[data-state]");
const say = (text, wrong) => { state.textContent = text; state.classList.toggle("error", Boolean(wrong)); };

const cells = (input) => [...input.closest("table").querySelectorAll("tr")]
  .map((row) => row.cells[input.closest("td").cellIndex]?.querySelector("input"));

const move = (input, by) => {
  const column = cells(input);
  const next = column[column.indexOf(input) + by];
  if (next) { next.focus(); next.select(); }
};

// Left and right leave a cell only from its first or last letter: inside they move the caret.
const sideways = (input, by) => {
  const { selectionStart: start, selectionEnd: end, value } = input;
  const whole = start === 0 && end === value.length;
  if (!whole && (by < 0 ? start > 0 : end < value.length)) return false;
  const row = [...input.closest("tr").querySelectorAll("input")];
  const next = row[row.indexOf(input) + by];
  if (next) { next.focus(); next.select(); }
  return Boolean(next);
};

const save = async (input) => {
  const body = new URLSearchParams({
    csrf_token: form.elements.csrf_token.value,
    meeting: form.elements.meeting.value,
    [input.name]: input.value,
  });
  // A mark is out of the points its question has.
  if (input.dataset.with) body.set(input.dataset.with, form.elements[input.dataset.with].value);
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
    const across = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (across && !event.shiftKey && sideways(input, across)) event.preventDefault();
    const by = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    move(input, by);
  });
});
document.querySelectorAll("[data-with-script]").forEach((item) => { item.hidden = false; });
