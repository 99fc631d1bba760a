// Walks the plan that stands in the page: what is shown, where one is, and nothing else. Every
// number, word and pointer is read off the elements, so that the page with and without scripts
// can't tell two stories.
//
// A place is the list of what was done, one code a step, kept in the address after "#go.CHART.":
//   s    begun                         e    entry check passed
//   c    passed, cold checks first: on with the second START
//   0 1  the answer taken, by position; 1_2r-1m where a reading was typed for it
//   x    the check can't be done: on by the plan without it
//   d02  set-up done, these stores (by position) out of reach;
//                                           all others were measured below their limits
//   p02  these proofs passed (at a verdict)
(() => {
  "use strict";
  const page = document.documentElement;
  page.classList.add("scripted");
  page.dataset.view = "walk";
  document.addEventListener("DOMContentLoaded", () => new Walk().begin());

  class Walk {
    constructor() {
      this.mark = "go." + page.dataset.chart + ".";
      this.kept = "nextprobe." + page.dataset.chart;
      this.tools = document.querySelector(".tools");
      this.words = this.tools.dataset;
      this.told = document.querySelector(".told");
      this.path = document.getElementById("path");
      this.screens = [...document.querySelectorAll(".screen")];
      this.readings = new Readings(JSON.parse(this.words.grammar));
      this.now = null;
    }

    begin() {
      this.tools.hidden = this.path.hidden = false;
      for (const field of document.querySelectorAll(".typed")) field.hidden = false;
      document.addEventListener("click", (event) => this.clicked(event));
      document.addEventListener("change", (event) => this.changed(event));
      document.addEventListener("input", (event) => this.changed(event));
      document.addEventListener("keydown", (event) => this.pressed(event));
      this.outline = document.querySelector(".outline");
      this.outline.querySelector(".search").hidden = false;
      this.path.querySelector("textarea").value = kept(this.kept + ".notes");
      window.addEventListener("hashchange", () => this.arrive());
      this.arrive();
    }

    // -- places -------------------------------------------------------------------------------

    arrive() {
      const address = decodeURIComponent(location.hash.slice(1));
      if (address && !address.startsWith("go.") && document.getElementById(address)) {
        this.look("plan");
        document.getElementById(address).scrollIntoView();
        if (this.now === null) this.show(follow([]), false);
        return;
      }
      const known = address.startsWith(this.mark);
      const codes = known ? address.slice(this.mark.length).split(".").filter(Boolean) : [];
      this.look("walk");
      this.show(follow(codes), known);
      if (address && !known) this.tell(this.words.wordsChanged);
    }

    go(codes) {
      this.keep(codes);
      const address = "#" + this.mark + codes.join(".");
      if (location.hash === address) this.arrive();
      else location.hash = address;
    }

    keep(codes) {
      try {
        if (codes.length > 1) localStorage.setItem(this.kept, codes.join("."));
      } catch { /* a browser that keeps nothing still has the address */ }
    }

    recalled() {
      try {
        return (localStorage.getItem(this.kept) || "").split(".").filter(Boolean);
      } catch {
        return [];
      }
    }

    // -- showing ------------------------------------------------------------------------------

    show(state, moved) {
      const same = this.now && this.now.at === state.at && this.now.cleared === state.cleared &&
        this.now.steps.length === state.steps.length;
      this.now = state;
      if (!same) this.turn(state, moved);
      this.listPath(state);
      this.tools.querySelector(".back").disabled = state.codes.length === 0;
      this.countProofs(state);
      this.offerResume(state);
    }

    turn(state, moved) {
      for (const screen of this.screens) screen.classList.toggle("here", screen === state.at);
      for (const copy of document.querySelectorAll(".owed")) copy.remove();
      for (const alert of document.querySelectorAll(".problem")) alert.textContent = "";
      // What was ticked before says nothing about a bench that one has come back to.
      for (const box of state.at.querySelectorAll("input")) emptied(box);
      for (const reply of state.at.querySelectorAll(".reply")) reply.classList.remove("due");
      this.layOwed(state);
      this.layQuestions();
      const repair = document.getElementById("every-repair");
      if (repair && state.at.dataset.kind === "verdict") {
        state.at.querySelector(".ending p").after(repair);
        repair.classList.add("here");
      } else if (repair) repair.classList.remove("here");
      const { label } = state.at.dataset;
      document.title = label + " · " + document.querySelector(".unit").textContent;
      this.tell(label + ". " + sum(state, this.words));
      if (!moved) return;
      scrollTo(0, 0);
      const head = state.cleared && state.gated ? ".ending h3" : "h2";
      state.at.querySelector(head).focus({ preventScroll: true });
    }

    layOwed(state) {
      const { at, cleared } = state;
      const gate = at.querySelector(".safety");
      if (gate) {
        gate.hidden = cleared;
        at.querySelector(".ending").hidden = !cleared;
      }
      if (cleared) return;
      const own = pointsOf(at);
      const owed = asked(at, state.owed).filter((point) => !own.includes(point));
      if (!owed.length) return;
      const lead = document.createElement("p");
      lead.className = "owed lead";
      lead.textContent = this.words.wordsOwed;
      const goal = (gate || at).querySelector(".problem");
      goal.before(lead);
      owed.forEach((point, place) => {
        const copy = storeOf(point).cloneNode(true);
        copy.classList.add("owed");
        for (const box of copy.querySelectorAll("input")) {
          box.name = "owed-" + place;
          emptied(box);
        }
        goal.before(copy);
      });
    }

    // A question that only some answers bring up is put once one of them is given.
    layQuestions() {
      for (const question of document.querySelectorAll("#entry .question[data-after]")) {
        const due = question.dataset.after.split("|").some((pair) => {
          const [other, answer] = pair.split("=");
          const asked = document.querySelector(`#entry [data-question="${other}"]`);
          const chosen = asked && asked.querySelector("input:checked");
          return chosen && chosen.closest("label").querySelector(".says").textContent === answer;
        });
        question.hidden = !due;
      }
    }

    listPath(state) {
      const list = this.path.querySelector("ol");
      list.replaceChildren(...state.steps.map((step) => {
        const item = document.createElement("li");
        const jump = document.createElement("button");
        jump.type = "button";
        jump.className = "jump";
        jump.dataset.length = step.before;
        jump.append(part("b", step.label), " " + step.short);
        if (step.answer) jump.append(" ", part("b", step.answer));
        const facts = [minutes(step.minutes)];
        if (step.odds !== null) facts.push(percent(step.odds));
        item.append(jump, " ", part("span", facts.join(" · ")));
        return item;
      }));
      this.path.querySelector(".sum").textContent =
        state.steps.length ? sum(state, this.words) : this.words.wordsEmpty;
      page.toggleAttribute("data-walked", state.steps.length > 0);
    }

    countProofs(state) {
      const boxes = [...state.at.querySelectorAll(".proofs input")];
      boxes.forEach((box, place) => { box.checked = state.proofs.has(place); });
      const tail = state.at.querySelector(".tail");
      if (tail) {
        tail.querySelector(".count").textContent = fill(tail.dataset.words, {
          done: state.proofs.size, of: boxes.length,
        });
      }
    }

    offerResume(state) {
      const offer = document.querySelector(".resume");
      const before = follow(this.recalled());
      offer.hidden = state.codes.length > 0 || before.steps.length === 0;
      offer.querySelector(".leads").textContent =
        before.at.dataset.label + ", " + sum(before, this.words);
    }

    look(view) {
      page.dataset.view = view;
      for (const button of this.tools.querySelectorAll(".show")) {
        button.setAttribute("aria-pressed", String(button.dataset.view === view));
      }
    }

    tell(words) { this.told.textContent = words; }

    // -- what hands do ------------------------------------------------------------------------

    clicked(event) {
      const pressed = event.target.closest("a, button");
      if (!pressed) return;
      const { codes } = this.now;
      if (pressed.matches(".skip")) this.toStep(event);
      else if (pressed.matches(".back")) this.go(undone(codes));
      else if (pressed.matches(".again")) this.go(undone(codes));
      else if (pressed.matches(".show")) this.toggle(pressed.dataset.view);
      else if (pressed.matches(".jump")) this.go(codes.slice(0, Number(pressed.dataset.length)));
      else if (pressed.matches(".restart")) this.restart();
      else if (pressed.matches(".copy")) this.copy(pressed);
      else if (pressed.matches(".read")) this.typed();
      else if (page.dataset.view === "walk") this.stepped(event, pressed, codes);
    }

    stepped(event, pressed, codes) {
      if (pressed.closest(".resume")) this.take(event, this.recalled());
      else if (pressed.closest(".answers")) {
        const place = answersOf(this.now.at).indexOf(pressed);
        this.take(event, [...codes, String(place)]);
      } else if (pressed.matches(".cannot")) {
        this.take(event, [...codes, "x"]);
      } else if (pressed.matches(".done, .proved")) {
        event.preventDefault();
        const code = this.accepted();
        if (code) this.go([...codes, code]);
      }
    }

    // A figure or a letter takes the answer in that place, x goes on without the check, unless
    // something is being typed.
    pressed(event) {
      if (event.key === "Enter" && event.target.closest(".typed input")) this.typed();
      const typing = event.target.closest("input, textarea, select");
      if (typing || event.ctrlKey || event.metaKey || event.altKey) return;
      if (page.dataset.view !== "walk") return;
      if (/^x$/i.test(event.key) && this.now.at.querySelector(".cannot")) {
        return this.take(event, [...this.now.codes, "x"]);
      }
      const place = placeOf(event.key);
      if (place < 0 || place >= answersOf(this.now.at).length) return;
      this.take(event, [...this.now.codes, String(place)]);
    }

    // What was typed at a check: the answer that it is, or a word on why it is none.
    typed() {
      const { at, codes } = this.now;
      const place = at.querySelector(".typed");
      const typed = place.querySelector("input").value.trim();
      const { code, shares } = this.readings.read(typed, testOf(at));
      if (code) {
        const values = { typed, unit: at.dataset.unit, example: exampleOf(at) };
        return this.problem(fill(this.words["wordsRd" + code[2]], values), place);
      }
      const answers = answersOf(at);
      const chosen = shares.map(([id]) => answers.find((one) => one.dataset.outcome === id));
      if (chosen.length > 1) {
        const names = chosen.map((one) => one.querySelector("b").textContent);
        const values = { typed, answers: names.join(this.words.wordsEither) };
        return this.problem(fill(this.words.wordsStraddles, values), place);
      }
      this.go([...codes, answers.indexOf(chosen[0]) + "_" + letters(typed)]);
      return "";
    }

    // Only steps with all of the words, and those on the way to them.
    search(words) {
      const wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
      let count = 0;
      for (const item of [...this.outline.querySelectorAll("li")].reverse()) {
        const own = [...item.childNodes].filter((one) => one.nodeName !== "UL");
        const said = own.map((one) => one.textContent).join(" ").toLowerCase();
        const hit = wanted.every((word) => said.includes(word));
        count += hit;
        item.hidden = !hit && !item.querySelector("li:not([hidden])");
      }
      const none = this.outline.querySelector(".none");
      none.textContent = count ? "" : none.dataset.words;
    }

    // What was done, as plain text: one line a step, the sum, the notes.
    record() {
      const steps = this.now.steps.map((step, place) => {
        const answer = step.answer ? " – " + step.answer : "";
        return `${place + 1}. ${step.label} ${step.short}${answer} (${minutes(step.minutes)})`;
      });
      const notes = this.path.querySelector("textarea").value.trim();
      const here = this.now.at.dataset;
      return [
        document.querySelector(".unit").textContent, ...steps,
        [here.label, here.short].filter(Boolean).join(" "), sum(this.now, this.words), notes,
      ].filter(Boolean).join("\n");
    }

    async copy(button) {
      try {
        await navigator.clipboard.writeText(this.record());
        this.tell(button.dataset.words);
      } catch {
        this.tell(button.dataset.wordsNot);
      }
    }

    take(event, codes) {
      event.preventDefault();
      this.go(codes);
    }

    toStep(event) {
      event.preventDefault();
      (this.now.at.querySelector("h2") || this.now.at).focus();
    }

    toggle(view) {
      if (page.dataset.view === view || view === "walk") {
        this.go(this.now.codes);
        return;
      }
      this.look(view);
      const head = document.querySelector({
        path: "#path-head", plan: "#outline-head", unit: "#unit-head",
      }[view]);
      scrollTo(0, 0);
      head.focus({ preventScroll: true });
    }

    restart() {
      this.go([]);
      this.tell(this.words.wordsRestarted);
    }

    changed(event) {
      const box = event.target;
      if (box.type === "search") this.search(box.value);
      if (box.matches("textarea")) keep(this.kept + ".notes", box.value);
      const store = box.closest(".store");
      if (store) {
        // A reading and "out of reach" rule each other out.
        for (const other of store.querySelectorAll("input")) {
          if (other !== box && (box.checked || box.type === "number")) emptied(other);
        }
        const read = reading(store);
        const due = read === "out" || read === "over" ? read : "";
        for (const reply of store.querySelectorAll(".reply")) {
          reply.classList.toggle("due", reply.dataset.for === due);
        }
        this.problem("");
      } else if (box.closest(".question")) {
        this.layQuestions();
      } else if (box.closest(".proofs") && page.dataset.view === "walk") {
        this.tick();
      }
    }

    tick() {
      const boxes = [...this.now.at.querySelectorAll(".proofs input")];
      const passed = boxes.flatMap((box, place) => (box.checked ? [place.toString(36)] : []));
      const codes = this.now.codes.filter((code) => !code.startsWith("p"));
      if (passed.length) codes.push("p" + passed.join(""));
      this.keep(codes);
      location.replace("#" + this.mark + codes.join("."));
    }

    // The code for a step that is done, or "" with a word on what is still open.
    accepted() {
      const { at } = this.now;
      if (at.dataset.kind === "start") return "s";
      if (at.dataset.kind === "entry") return this.admitted(at);
      let code = "d";
      const stores = [...at.querySelectorAll(".store")];
      for (const [place, store] of stores.entries()) {
        const read = reading(store);
        const words = { point: store.dataset.point };
        if (!read) return this.problem(fill(this.words.wordsOpen, words), store);
        if (read === "over") return this.problem(fill(this.words.wordsOver, words), store);
        if (read !== "out") continue;
        // Out of reach there is one way on: the opening that bares it, if it comes next.
        if (!("onward" in store.dataset)) {
          return this.problem(fill(this.words.wordsStop, words), store);
        }
        code += place.toString(36);
      }
      return code;
    }

    // "e" where all was well, "c" where a plan that begins with cold checks is to be followed.
    admitted(at) {
      let code = "e";
      for (const question of at.querySelectorAll(".question:not([hidden])")) {
        const chosen = question.querySelector("input:checked");
        if (!chosen) return this.problem(this.words.wordsEntryOpen, question);
        if (chosen.value === "cold-first" && at.dataset.second) code = "c";
        else if (chosen.value !== "go-on") {
          const follows = chosen.closest("label").querySelector(".follows");
          return this.problem(follows.textContent.replace(/^: /, ""), question);
        }
      }
      return code;
    }

    problem(words, place) {
      const alerts = [...this.now.at.querySelectorAll(".problem")];
      for (const alert of alerts) alert.textContent = words;
      if (place) place.querySelector("input").focus();
      return "";
    }
  }

  // -- following a list of codes through the page -----------------------------------------------

  function follow(codes) {
    const state = {
      at: document.getElementById("start"), codes: [], steps: [], owed: [], minutes: 0, odds: 1,
      cleared: false, gated: false, proofs: new Set(),
    };
    for (const code of codes) {
      if (!stepOn(state, code)) break;
      state.codes.push(code);
    }
    return state;
  }

  function stepOn(state, code) {
    const { kind } = state.at.dataset;
    if ((kind === "start" && code === "s") || (kind === "entry" && code === "e")) {
      return move(state, document.getElementById(state.at.dataset.next));
    }
    if (kind === "entry" && code === "c") {
      return move(state, document.getElementById(state.at.dataset.second));
    }
    if (kind === "setup" && code[0] === "d") {
      record(state, "", null);
      owe(state, code);
      return move(state, document.getElementById(state.at.dataset.next));
    }
    if (kind === "verdict") return close(state, code);
    const onward = kind === "test" && code === "x" ? state.at.querySelector(".cannot") : null;
    if (onward) {
      record(state, document.querySelector(".tools").dataset.wordsCannot, null, 0);
      return move(state, document.getElementById(onward.hash.slice(1)));
    }
    const asks = kind === "test" || kind === "third";
    const [place, typed] = code.split("_");
    const answer = asks ? answersOf(state.at)[Number(place)] : undefined;
    if (!answer) return false;
    // The answers of a test that is done once more have no odds.
    const odds = "odds" in answer.dataset ? Number(answer.dataset.odds) : null;
    const words = answer.querySelector("b").textContent;
    record(state, typed ? words + " (" + fromLetters(typed) + ")" : words, odds);
    return move(state, document.getElementById(answer.hash.slice(1)));
  }

  function close(state, code) {
    if (code[0] === "d" && !state.cleared) {
      owe(state, code);
      state.cleared = true;
      return true;
    }
    if (code[0] !== "p" || !state.cleared) return false;
    state.proofs = new Set([...code.slice(1)].map((letter) => parseInt(letter, 36)));
    return true;
  }

  function move(state, to) {
    if (!to) return false;
    state.at = to;
    state.gated = to.dataset.kind === "verdict" && asked(to, state.owed).length > 0;
    state.cleared = to.dataset.kind === "verdict" && !state.gated;
    return true;
  }

  function record(state, answer, odds, spent = Number(state.at.dataset.minutes)) {
    const { label, short } = state.at.dataset;
    state.steps.push({
      label, short, answer, odds, minutes: spent, before: state.codes.length,
    });
    state.minutes += spent;
    if (odds !== null) state.odds *= odds;
  }

  // Stores out of reach stay owed until the unit is opened further, or repaired.
  function owe(state, code) {
    const due = asked(state.at, state.owed);
    const out = [...code.slice(1)].map((letter) => due[parseInt(letter, 36)]).filter(Boolean);
    state.owed = [...state.owed.filter((point) => !due.includes(point)), ...out];
  }

  function asked(screen, owed) {
    const own = pointsOf(screen);
    const again = screen.dataset.kind === "verdict" || "opens" in screen.dataset;
    return again ? [...own, ...owed.filter((point) => !own.includes(point))] : own;
  }

  function pointsOf(screen) {
    return [...screen.querySelectorAll(".store:not(.owed)")].map((store) => store.dataset.point);
  }

  function storeOf(point) {
    return [...document.querySelectorAll(".store:not(.owed)")]
      .find((store) => store.dataset.point === point);
  }

  // What was found at a store: "", "below", "over" its limit, or "out" of reach.
  function reading(store) {
    if (store.querySelector('[value="out"]').checked) return "out";
    const typed = store.querySelector('[type="number"]').value;
    if (typed === "") return "";
    return Math.abs(Number(typed)) < Number(store.dataset.below) ? "below" : "over";
  }

  function emptied(box) {
    if (box.type === "number" || box.type === "text") box.value = "";
    else box.checked = false;
  }

  function kept(name) {
    try { return localStorage.getItem(name) || ""; } catch { return ""; }
  }

  function keep(name, words) {
    try { localStorage.setItem(name, words); } catch { /* kept by nobody, still on the page */ }
  }

  // The place that a key stands for: 1 and a for the first answer; -1 for other keys.
  function placeOf(key) {
    if (/^[1-9]$/.test(key)) return Number(key) - 1;
    return /^[a-i]$/i.test(key) ? key.toLowerCase().charCodeAt(0) - 97 : -1;
  }

  function answersOf(screen) { return [...screen.querySelectorAll(".answers a")]; }

  // What readings at a check are taken for, off its elements.
  function testOf(screen) {
    const { unit, base, least, most, instrument } = screen.dataset;
    const number = (text) => (text === undefined ? null : Number(text));
    const outcomes = answersOf(screen).map(({ dataset }) => ({
      id: dataset.outcome, says: dataset.says, unit: "measured" in dataset ? base : null,
      low: number(dataset.low), high: number(dataset.high),
    }));
    return {
      unit, base, outcomes, least: number(least), most: number(most),
      instrument: instrument || "", diode: "diode" in screen.dataset,
    };
  }

  function exampleOf(screen) {
    const measured = answersOf(screen).find((one) => "measured" in one.dataset);
    const band = measured && measured.querySelector(".band");
    return (band || answersOf(screen)[0].querySelector("b")).textContent;
  }

  // A typed reading as it stands in the address, and back.
  function letters(text) {
    return [...text].map((letter) => letter.codePointAt(0).toString(36)).join("-");
  }

  function fromLetters(code) {
    try {
      return String.fromCodePoint(...code.split("-").map((one) => parseInt(one, 36)));
    } catch {
      return "";
    }
  }

  function undone(codes) {
    const left = codes.filter((code) => !code.startsWith("p"));
    return left.slice(0, -1);
  }

  // -- words ------------------------------------------------------------------------------------

  function sum(state, words) {
    const spent = state.minutes.toFixed(1).replace(/\.0$/, "");
    const { kind } = state.at.dataset;
    if (kind === "start" || kind === "entry") return "";
    const ahead = (Number(state.at.dataset.minutes) + Number(state.at.dataset.ahead)).toFixed(0);
    const frame = kind === "verdict" ? words.wordsEnded : words.wordsSoFar;
    const way = state.odds < 1 ? ". " + fill(words.wordsOdds, { odds: percent(state.odds) }) : "";
    return fill(frame, { minutes: spent, ahead }) + way;
  }

  function percent(odds) {
    if (odds > 0 && odds < 0.005) return "<1\u202f%";
    if (odds >= 0.995 && odds < 1 - 1e-9) return ">99\u202f%";
    return Math.round(odds * 100) + "\u202f%";
  }

  function minutes(value) { return Number(value.toFixed(2)) + "\u202fmin"; }

  function fill(frame, values) {
    return frame.replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  }

  function part(tag, words) {
    const element = document.createElement(tag);
    element.textContent = words;
    return element;
  }
})();
