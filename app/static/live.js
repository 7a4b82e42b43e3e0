// A calculator computes as you type: fetch the same address for the present values, first what
// is read, then what is drawn, and swap both in.
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

// Each mistake stands in the answer with the id of the field it belongs to.
const showMistakes = (page) => {
  for (const place of form.querySelectorAll(".error[id]")) {
    const id = place.id.replace(/-error$/, "");
    const said = [...page.querySelectorAll(`[data-for="${CSS.escape(id)}"]`)].map((item) => item.textContent);
    place.textContent = said.join(" ");
    place.closest(".field").classList.toggle("wrong", said.length > 0);
    if (said.length) document.getElementById(id).setAttribute("aria-invalid", "true");
    else document.getElementById(id).removeAttribute("aria-invalid");
  }
  document.querySelector(".error-summary")?.remove();
};

const swap = (page) => {
  for (const fresh of [...page.body.children]) {
    const old = document.getElementById(fresh.id);
    // A live region must stay the same element, or its change is not read out.
    if (old.innerHTML !== fresh.innerHTML) old.replaceChildren(...fresh.childNodes);
  }
};

const part = async (wanted, name) => {
  const response = await fetch(wanted, { signal: running.signal, headers: { "X-Part": name } });
  if (!response.ok && response.status !== 422) throw new Error(String(response.status));
  return new DOMParser().parseFromString(await response.text(), "text/html");
};

const compute = async () => {
  running?.abort();
  running = new AbortController();
  const wanted = address();
  try {
    const answer = await part(wanted, "answer");
    showMistakes(answer);
    swap(answer);
    history.replaceState(null, "", wanted);
    swap(await part(wanted, "picture"));
    document.dispatchEvent(new CustomEvent("result-swapped"));
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
