// A form whose entries must not be lost is sent from where it stands. In a part of a page the answer's
// parts take the old ones' place; elsewhere the answer's page does. If it cannot be saved, everything
// entered stays in the form and the form says so.
const LONGEST_WAIT_MS = 12000;

const say = (form, text, failed) => {
  let place = form.querySelector(".said");
  if (!place) {
    place = document.createElement("p");
    place.setAttribute("role", "status");
    place.className = "said";
    form.append(place);
  }
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

// What a refusal left standing counts as entered too.
const begun = (part) => Boolean(part.querySelector("[role=alert]")) || [...part.querySelectorAll("input:not([type=hidden]), select, textarea")].some((field) => (
  field.type === "checkbox" || field.type === "radio" ? field.checked !== field.defaultChecked
    : field.tagName === "SELECT" ? field.selectedIndex !== Math.max(0, [...field.options].findIndex((option) => option.defaultSelected))
      : field.value !== field.defaultValue));

// Other parts may be renewed only where nobody has begun to enter something.
const others = (region) => [...document.querySelectorAll("[data-swap]")].filter((part) => part !== region);
// What the answer would replace beside a form: the page's other parts, or its other forms.
const rest = (form, region) => (region ? others(region) : [...document.querySelectorAll("form[data-keep]")].filter((other) => other !== form));
const untouched = (region) => others(region).filter((part) => !begun(part)).map((part) => part.id);

const ENDED = "Your sign-in has ended. Sign in in another tab, then press the button again.";
const signedOut = (answer) => answer.status === 401 || new URL(answer.url).pathname === "/sign-in";
const request = (address, body) => fetch(address, {
  method: body ? "POST" : "GET", body, credentials: "same-origin", signal: AbortSignal.timeout(LONGEST_WAIT_MS),
});
const parsed = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");

// After a new sign-in or a restart the page's forms are of an older session: they get its new token.
const renewed = async () => {
  const answer = await request(location.href);
  if (!answer.ok || signedOut(answer)) return "";
  const token = (await parsed(answer)).querySelector("input[name=csrf_token]")?.value ?? "";
  if (token) document.querySelectorAll("input[name=csrf_token]").forEach((field) => { field.value = token; });
  return token;
};

const send = async (form, data) => {
  const packed = () => (form.enctype === "multipart/form-data" ? data : new URLSearchParams(data));
  let answer = await request(form.action, packed());
  if (answer.status === 400) {
    const token = await renewed();
    if (!token) return { kept: ENDED };
    data.set("csrf_token", token);
    answer = await request(form.action, packed());
  }
  if (signedOut(answer)) return { kept: ENDED };
  if (answer.status === 409) return { kept: `Not saved: ${[...(await parsed(answer)).querySelectorAll("main h1, main h1 + p")].map((line) => line.textContent.trim()).join(". ")}` };
  if (!answer.ok && answer.status !== 422) return { kept: `Not saved (the answer was ${answer.status}). What you entered is still here: try again.` };
  return { saved: answer.ok, address: answer.redirected ? answer.url : "", page: await parsed(answer) };
};

// The answer's page in place of this one: its address too, if the answer led on to one.
const show = (address, page) => {
  document.querySelector("main").replaceWith(document.importNode(page.querySelector("main"), true));
  document.title = page.title;
  if (address) { history.pushState(null, "", address); shown = place(); }
  const main = document.querySelector("main");
  (main.querySelector(".error-summary") ?? main).focus();
  window.scrollTo(0, 0);
};
// A link within the page goes back and forth too, and must not wipe a form.
const place = () => location.pathname + location.search;
let shown = place();
window.addEventListener("popstate", () => { if (place() !== shown) location.reload(); });

// The fresh part is where one goes on, never a button: a second Enter must not press it.
const goOn = (fresh, saved) => {
  const fields = [...fresh.querySelectorAll("[role=alert] ~ form :is(input:not([type=hidden], [type=checkbox]), select)")].filter((field) => field.checkVisibility());
  const wrong = fields.find((field) => !field.value) ?? fields[0];
  if (!wrong) fresh.tabIndex = -1;
  (wrong ?? fresh).focus({ preventScroll: !saved });
};

document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-keep]");
  const region = form?.closest("[data-swap]");
  const button = event.submitter;
  if (!form) return;
  const leaving = button?.hasAttribute("data-leave");
  const part = leaving || !region ? rest(form, region).find((other) => begun(other)) : undefined;
  if (part && !form.dataset.warned) {
    event.preventDefault();
    form.dataset.warned = "1";
    const where = (part.querySelector("h2, h3, summary, label, legend") ?? part).textContent.trim().slice(0, 80);
    say(form, `Something is entered and not saved yet (${where}). Save it first, or press the button again to leave it.`, true);
    return;
  }
  if (leaving) return;
  event.preventDefault();
  if (form.getAttribute("aria-busy") === "true") return;
  const data = new FormData(form);
  if (button?.name) data.append(button.name, button.value);
  form.setAttribute("aria-busy", "true");
  say(form, "Saving …", false);
  try {
    const { kept, saved, address, page } = await send(form, data);
    if (kept) { say(form, kept, true); return; }
    if (!region) { show(address, page); return; }
    const id = region.id;
    // Who is here, and what is done, decide what other teams may record: their parts are renewed too.
    const parts = [id, ...untouched(region)];
    if (!parts.map((part) => swap(part, page)).some(Boolean)) { location.reload(); return; }
    document.querySelector("main > .messages, .messages")?.remove();
    const fresh = document.getElementById(id);
    const words = saved ? page.querySelector(".messages")?.textContent.trim() : "";
    if (words) {
      const note = document.createElement("p");
      note.className = "said";
      note.setAttribute("role", "status");
      fresh.append(note);
      note.textContent = words;
    }
    goOn(fresh, saved);
  } catch {
    say(form, "Not saved: the school’s machine did not answer. What you entered is still here; press the button again.", true);
  } finally {
    form.removeAttribute("aria-busy");
  }
});
