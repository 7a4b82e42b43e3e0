// Search by keyboard: type and see, down and up through what is found, "/" to type again.
const PAUSE_MS = 120;
const form = document.querySelector("form[role=search]");
const box = form?.querySelector("input[type=search]");
const place = document.getElementById(form?.dataset.search ?? "");
let timer = 0;
let running = null;

const search = async () => {
  running?.abort();
  running = new AbortController();
  const address = `${form.action}?${new URLSearchParams(new FormData(form))}`;
  try {
    const response = await fetch(address, { signal: running.signal, headers: { "X-Part": "found" } });
    if (!response.ok) return;
    const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
    place.replaceChildren(...fresh.body.childNodes);
    history.replaceState(null, "", address);
  } catch (error) {
    if (error.name !== "AbortError") form.requestSubmit();
  }
};

if (place) {
  const later = () => { clearTimeout(timer); timer = setTimeout(search, PAUSE_MS); };
  form.addEventListener("input", later);
  form.addEventListener("change", later);
  document.querySelector("[data-keys]").hidden = false;
}

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea");
  if (event.key === "/" && !typing && box) {
    event.preventDefault();
    box.focus();
    box.select();
  }
  const links = [...(place?.querySelectorAll("tbody th a") ?? [])];
  const here = links.indexOf(event.target);
  if (event.key === "ArrowDown" && (event.target === box || here >= 0) && links[here + 1]) {
    event.preventDefault();
    links[here + 1].focus();
  }
  if (event.key === "ArrowUp" && here >= 0) {
    event.preventDefault();
    (links[here - 1] ?? box).focus();
  }
});
