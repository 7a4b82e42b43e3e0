// Re-reads the page while a job runs and swaps the watched region; leaves when the job is done.
const region = document.querySelector("[data-watch]");
const look = async () => {
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
  if (answer.redirected) { location.assign(answer.url); return; }
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-watch]");
  if (fresh) {
    if (fresh.textContent !== region.textContent) region.replaceChildren(...fresh.childNodes);
    if (fresh.dataset.watch === "failed") return;
  }
  setTimeout(look, 1000);
};
if (region && region.dataset.watch !== "failed") setTimeout(look, 700);
