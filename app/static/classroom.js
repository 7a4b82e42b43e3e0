// A form on a class-time page is saved in place: the answer's part of the page takes the old one's
// place. If it cannot be saved, everything entered stays in the form and the form says so.
const LONGEST_WAIT_MS = 12000;

const say = (form, text, failed) => {
  const place = form.querySelector(".said");
  if (!place) return;
  place.textContent = text;
  place.classList.toggle("failed", failed);
};

const swap = (id, page) => {
  const fresh = page.getElementById(id);
  const old = document.getElementById(id);
  if (!fresh || !old) return false;
  old.replaceWith(document.importNode(fresh, true));
  return true;
};

// Other parts may be renewed only where nobody has begun to enter something.
const untouched = (region) => [...document.querySelectorAll("[data-swap]")]
  .filter((part) => part !== region && [...part.querySelectorAll("input:not([type=hidden]), select")].every((field) => (
    field.type === "checkbox" ? field.checked === field.defaultChecked
      : field.tagName === "SELECT" ? [...field.options].every((option) => option.selected === option.defaultSelected || !field.value)
        : field.value === field.defaultValue)))
  .map((part) => part.id);

const send = async (form, data) => {
  const answer = await fetch(form.action, {
    method: "POST", body: new URLSearchParams(data), credentials: "same-origin", signal: AbortSignal.timeout(LONGEST_WAIT_MS),
  });
  if (answer.status === 401 || new URL(answer.url).pathname === "/sign-in") return { kept: "Your sign-in has ended. Sign in in another tab, then press the button again." };
  if (!answer.ok && answer.status !== 422) return { kept: `Not saved (the answer was ${answer.status}). What you entered is still here: try again.` };
  return { saved: answer.ok, page: new DOMParser().parseFromString(await answer.text(), "text/html") };
};

document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-keep]");
  const region = form?.closest("[data-swap]");
  const button = event.submitter;
  if (!region || button?.hasAttribute("data-leave")) return;
  event.preventDefault();
  if (form.getAttribute("aria-busy") === "true") return;
  const data = new FormData(form);
  if (button?.name) data.append(button.name, button.value);
  form.setAttribute("aria-busy", "true");
  say(form, "Saving …", false);
  try {
    const { kept, saved, page } = await send(form, data);
    if (kept) { say(form, kept, true); return; }
    const id = region.id;
    // Who is here decides what may be recorded, so a change of it renews every team's part.
    const parts = id === "away" ? [id, ...untouched(region)] : [id];
    if (!parts.map((part) => swap(part, page)).some(Boolean)) { location.reload(); return; }
    const fresh = document.getElementById(id);
    const words = saved ? page.querySelector(".messages")?.textContent.trim() : "";
    if (words) {
      const note = document.createElement("p");
      note.className = "said";
      note.setAttribute("role", "status");
      fresh.append(note);
      note.textContent = words;
    }
    (fresh.querySelector("[role=alert] ~ form input:not([type=hidden])") ?? fresh.querySelector("button, summary, a"))?.focus({ preventScroll: !saved });
  } catch {
    say(form, "Not saved: the school’s machine did not answer. What you entered is still here; press the button again.", true);
  } finally {
    form.removeAttribute("aria-busy");
  }
});
