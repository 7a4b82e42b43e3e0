// A calculator computes as you type: fetch the same page for the present values, swap its result.
const PAUSE_MS = 250;
const form = document.querySelector("form[data-live]");
let timer = 0;
let running = null;

const address = () => {
  const values = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    if (name !== "solved" && value.trim() !== "") values.set(name, value);
  }
  return `${form.action}?${values}`;
};

const swapMistakes = (page) => {
  for (const place of form.querySelectorAll(".error[id]")) {
    const said = page.getElementById(place.id)?.textContent ?? "";
    place.textContent = said;
    place.closest(".field").classList.toggle("wrong", said !== "");
    const entry = document.getElementById(place.id.replace(/-error$/, ""));
    if (said) entry?.setAttribute("aria-invalid", "true");
    else entry?.removeAttribute("aria-invalid");
  }
  document.querySelector(".error-summary")?.remove();
};

const swapResult = (page) => {
  // The sentence is a live region and must stay the same element; what follows it is replaced.
  const [answer, incoming] = [document.getElementById("answer"), page.getElementById("answer")];
  if (answer.innerHTML !== incoming.innerHTML) answer.replaceChildren(...incoming.childNodes);
  const [old, fresh] = [document.getElementById("shown"), page.getElementById("shown")];
  if (fresh && old) old.replaceWith(fresh);
  else if (fresh) answer.after(fresh);
  else old?.remove();
  document.dispatchEvent(new CustomEvent("result-swapped"));
};

const compute = async () => {
  running?.abort();
  running = new AbortController();
  const wanted = address();
  try {
    const response = await fetch(wanted, { signal: running.signal, headers: { Accept: "text/html" } });
    if (!response.ok && response.status !== 422) throw new Error(String(response.status));
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    swapMistakes(page);
    swapResult(page);
    history.replaceState(null, "", wanted);
  } catch (error) {
    if (error.name === "AbortError") return;
    document.getElementById("answer").textContent = "The values could not be computed just now. Press “Compute the result” to try again.";
  }
};

form?.addEventListener("input", (event) => {
  if (event.target.name === "solve") return;
  clearTimeout(timer);
  timer = setTimeout(compute, PAUSE_MS);
});
form?.addEventListener("change", (event) => {
  if (event.target.name === "solve") form.requestSubmit();
});
