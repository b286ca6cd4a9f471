// Keeps the page as the collector sees it: the stream brings escaped parts, each takes the place of the older one of its name.
(() => {
  const said = document.getElementById("said");
  const clock = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit", second: "2-digit" });
  const stream = new EventSource("/events");
  let lost = false;

  stream.addEventListener("parts", event => {
    const fresh = new DOMParser().parseFromString(event.data, "text/html");
    for (const part of fresh.querySelectorAll("[data-part]")) {
      const old = document.querySelector(`[data-part="${part.dataset.part}"]`);
      if (!old || old.innerHTML === part.innerHTML) continue;
      const focus = old.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
      old.replaceChildren(...part.childNodes);
      if (focus) old.querySelector(`a[href="${CSS.escape(focus)}"]`)?.focus({ preventScroll: true });
    }
    // Said aloud only when the connection comes or goes; a line that speaks every few seconds helps nobody.
    const text = "This page follows the collector by itself. Last change " + clock.format(new Date()) + ".";
    said.setAttribute("role", lost || !said.dataset.live ? "status" : "none");
    said.dataset.live = "yes";
    said.textContent = text;
    said.classList.remove("lost");
    lost = false;
  });

  stream.addEventListener("error", () => {
    if (lost) return;
    lost = true;
    said.setAttribute("role", "status");
    said.textContent = "The collector does not answer. What you see is as of before; the page goes on trying.";
    said.classList.add("lost");
  });
})();
