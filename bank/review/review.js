(function () {
  "use strict";
  const all = (selector, within) => Array.from((within || document).querySelectorAll(selector));
  const form = document.querySelector(".filters");
  const tally = document.querySelector(".tally");
  const nothing = document.querySelector(".nothing");
  const switches = { show: document.getElementById("show-key"), print: document.getElementById("print-key") };
  const fields = ["week", "topic", "template", "mistake", "response", "band", "text"];
  const items = all(".item").map((element) => ({
    element,
    week: element.closest(".week").dataset.week,
    topic: element.dataset.topic,
    template: element.dataset.template,
    response: element.dataset.response,
    band: element.dataset.band,
    mistakes: element.dataset.mistakes.split(" "),
    words: null,
  }));

  const wordsOf = (item) => {
    if (item.words === null) item.words = item.element.textContent.replace(/\s+/g, " ").toLowerCase();
    return item.words;
  };

  function fits(item, wanted) {
    for (const name of ["week", "topic", "template", "response", "band"]) {
      if (wanted[name] && item[name] !== wanted[name]) return false;
    }
    if (wanted.mistake && !item.mistakes.includes(wanted.mistake)) return false;
    return !wanted.text || wordsOf(item).includes(wanted.text);
  }

  function wantedNow() {
    const wanted = {};
    for (const name of fields) wanted[name] = form.elements[name].value;
    wanted.text = wanted.text.replace(/\s+/g, " ").trim().toLowerCase();
    return wanted;
  }

  function show() {
    const wanted = wantedNow();
    let count = 0;
    for (const item of items) {
      const fit = fits(item, wanted);
      item.element.hidden = !fit;
      if (fit) count += 1;
    }
    for (const group of all(".quiz, .week")) group.hidden = !group.querySelector(".item:not([hidden])");
    for (const part of all(".part")) {
      let next = part.nextElementSibling;
      while (next && next.classList.contains("item") && next.hidden) next = next.nextElementSibling;
      part.hidden = !next || !next.classList.contains("item");
    }
    nothing.hidden = count > 0 || items.length === 0;
    const total = items.length.toLocaleString("en");
    const text = count === items.length ? total + " items" : count.toLocaleString("en") + " of " + total + " items";
    if (tally.textContent !== text) tally.textContent = text;
  }

  function keep() {
    const state = new URLSearchParams();
    for (const name of fields) if (form.elements[name].value) state.set(name, form.elements[name].value);
    for (const name of Object.keys(switches)) if (!switches[name].checked) state.set(name + "-key", "no");
    const hash = state.toString();
    if (hash === location.hash.slice(1)) return;
    try {
      history.replaceState(null, "", hash ? "#" + hash : location.pathname + location.search);
    } catch (refused) {
      location.hash = hash;
    }
  }

  function recall() {
    const text = location.hash.slice(1);
    if (text && !text.includes("=")) {
      reveal(decodeURIComponent(text));
      return;
    }
    const state = new URLSearchParams(text);
    for (const name of fields) {
      form.elements[name].value = state.get(name) || "";
      if (form.elements[name].selectedIndex === -1) form.elements[name].value = "";
    }
    for (const name of Object.keys(switches)) switches[name].checked = state.get(name + "-key") !== "no";
    show();
  }

  function reveal(anchor) {
    const target = document.getElementById(anchor);
    const item = target && target.closest(".item");
    if (item && item.hidden) {
      form.reset();
      show();
    }
    if (item) go(item);
  }

  function go(element) {
    element.focus({ preventScroll: true });
    element.scrollIntoView({ block: "start" });
  }

  function step(by) {
    const visible = items.filter((item) => !item.element.hidden).map((item) => item.element);
    if (!visible.length) return;
    const here = last && !last.hidden ? visible.indexOf(last) : -1;
    const next = here === -1 ? (by > 0 ? 0 : visible.length - 1) : here + by;
    go(visible[Math.min(Math.max(next, 0), visible.length - 1)]);
  }

  function open(details, on) {
    for (const one of details) one.open = on;
  }

  const visibleDetails = () => all(".item:not([hidden]) details");
  const actions = {
    next: () => step(1),
    previous: () => step(-1),
    expand: () => open(visibleDetails(), true),
    collapse: () => open(visibleDetails(), false),
  };

  let last = null;
  document.addEventListener("focusin", (event) => {
    const item = event.target.closest(".item");
    if (item) last = item;
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do]");
    if (button) actions[button.dataset.do]();
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return;
    const item = event.target.closest(".item");
    if (!item) return;
    if (event.key === "n") step(1);
    else if (event.key === "p") step(-1);
    else if (event.key === "e") {
      const details = all("details", item);
      open(details, details.some((one) => !one.open));
    } else return;
    event.preventDefault();
  });

  /* What is said of a mistake is in the page once; opening a wrong answer shows it there. */
  function fill(details) {
    const [remedied, place] = (details.dataset.told || "").split(" ");
    const remedies = all(".remedy span", document.getElementById(`mistake-${remedied}`) || details);
    if (remedies[place]) {
      const line = document.createElement("p"), title = document.createElement("b");
      title.textContent = "The pupil is told: ";
      line.append(title, remedies[place].textContent);
      details.append(line);
    }
    delete details.dataset.told;
    const links = all("p > a", details);
    for (const link of links) {
      const entry = document.getElementById(decodeURIComponent(link.hash.slice(1)));
      if (!entry) continue;
      const copy = document.createElement("div");
      for (const part of entry.children) if (part.tagName === "P" ? !part.matches(".remedy") : links.length > 1) copy.append(part.cloneNode(true));
      for (const title of all("h3", copy)) {
        const words = document.createElement("p");
        words.className = "name";
        words.textContent = title.textContent;
        title.replaceWith(words);
      }
      details.append(copy);
      link.remove();
    }
    for (const line of all(":scope > p", details)) if (!line.children.length) line.remove();
  }
  document.addEventListener("toggle", (event) => {
    const details = event.target;
    if (details.open && details.classList.contains("why")) fill(details);
  }, true);

  const change = () => { show(); keep(); };
  form.addEventListener("input", change);
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("reset", () => setTimeout(change, 0));
  for (const name of Object.keys(switches)) switches[name].addEventListener("change", keep);
  window.addEventListener("hashchange", recall);

  form.hidden = false;
  for (const element of all(".scripted")) element.hidden = false;
  recall();
  show();
})();
