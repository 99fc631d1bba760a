"use strict";
// Comfort only: without this script every page works as it is.
(() => {
  const amiss = document.querySelector(".amiss");
  if (amiss) {
    document.querySelector("[aria-invalid]")?.focus();
  }

  // A form goes once, however often it is touched.
  for (const form of document.forms) {
    form.addEventListener("submit", (event) => {
      if (form.dataset.going) { event.preventDefault(); return; }
      form.dataset.going = "yes";
      setTimeout(() => { delete form.dataset.going; }, 8000);
    });
  }
  addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.going;
  });

  // What a reading is taken for, while it is typed.
  const box = document.getElementById("reading");
  const echo = document.querySelector(".echo");
  if (box && echo) {
    let timer = 0, turn = 0;
    const ask = async () => {
      const mine = ++turn, text = box.value.trim();
      if (!text) { echo.textContent = ""; echo.className = "echo"; return; }
      const query = new URLSearchParams({ text, test: box.dataset.test });
      try {
        const answer = await fetch(`/case/${box.dataset.number}/reading?${query}`);
        const reply = await answer.json();
        if (mine !== turn) return;
        echo.textContent = reply.says;
        echo.className = reply.taken ? "echo taken" : "echo";
      } catch {
        if (mine === turn) echo.textContent = "";
      }
    };
    box.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 250); });
  }

  // A wall screen renews itself, until somebody says that it shall not (WCAG 2.2.1, 2.2.2).
  const wall = document.querySelector("[data-renews]");
  if (wall) {
    const key = "nextprobe-renews";
    let renews = true, timer = 0;
    try { renews = localStorage.getItem(key) !== "off"; } catch { /* no store: on */ }
    const button = document.createElement("button");
    button.type = "button";
    const show = () => {
      button.textContent = renews ? "Renews itself: on" : "Renews itself: off";
      button.setAttribute("aria-pressed", String(renews));
      clearTimeout(timer);
      if (renews) timer = setTimeout(() => location.reload(), wall.dataset.renews * 1000);
    };
    button.addEventListener("click", () => {
      renews = !renews;
      try { localStorage.setItem(key, renews ? "on" : "off"); } catch { /* for this page then */ }
      show();
    });
    show();
    wall.querySelector(".onward").append(button);
  }

  // A letter or figure brings the answer under the hand; Enter takes it. It can be turned off
  // (WCAG 2.1.4), and nothing is heard while something is typed.
  const answers = [...document.querySelectorAll(".answers button")];
  const tools = document.querySelector(".tools");
  if (!answers.length || !tools) return;
  const NAME = "nextprobe-keys";
  let on = true;
  try { on = localStorage.getItem(NAME) !== "off"; } catch { /* no store: on */ }
  const toggle = document.createElement("button");
  toggle.type = "button";
  const tell = () => {
    toggle.textContent = on ? "Keys answer: on" : "Keys answer: off";
    toggle.setAttribute("aria-pressed", String(on));
  };
  toggle.addEventListener("click", () => {
    on = !on;
    try { localStorage.setItem(NAME, on ? "on" : "off"); } catch { /* for this page then */ }
    tell();
  });
  tell();
  tools.append(toggle);
  document.addEventListener("keydown", (event) => {
    if (!on || event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (event.target.closest?.("input, textarea, select")) return;
    const key = event.key.toLowerCase();
    const hit = answers.find((one) => one.dataset.key === key || one.dataset.figure === key);
    if (hit) { hit.focus(); event.preventDefault(); }
  });
})();
