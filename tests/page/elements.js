// As much of a browser's elements as the page's script asks for in following codes: a page is set
// from plain elements, each with its attributes, words and what is inside.
"use strict";
let root = null;
const byId = new Map();

class Plain {
  constructor({ tag, attributes, words, inside }) {
    this.tag = tag;
    this.attributes = attributes;
    this.textContent = words;
    this.inside = inside.map((one) => new Plain(one));
    this.dataset = {};
    for (const [name, value] of Object.entries(attributes)) {
      if (!name.startsWith("data-")) continue;
      this.dataset[name.slice(5).replace(/-(\w)/g, (_, letter) => letter.toUpperCase())] = value;
    }
    if (attributes.id) byId.set(attributes.id, this);
  }

  get hash() { return this.attributes.href || ""; }

  get classes() { return (this.attributes.class || "").split(" "); }

  *all() {
    for (const one of this.inside) {
      yield one;
      yield* one.all();
    }
  }

  // Of selectors: "tag", ".class", ".class:not(.other)", and one inside another.
  fits(selector) {
    const [, tag, name, not] = /^(\w*)(?:\.([\w-]+))?(?::not\(\.([\w-]+)\))?$/.exec(selector);
    return (!tag || this.tag === tag) && (!name || this.classes.includes(name)) &&
      (!not || !this.classes.includes(not));
  }

  querySelectorAll(selector) {
    const [first, ...rest] = selector.split(" ");
    const found = [...this.all()].filter((one) => one.fits(first));
    return rest.length ? found.flatMap((one) => one.querySelectorAll(rest.join(" "))) : found;
  }

  querySelector(selector) { return this.querySelectorAll(selector)[0] || null; }
}

globalThis.document = {
  documentElement: { classList: { add() {} }, dataset: {} },
  addEventListener() {},
  getElementById: (id) => byId.get(id) || null,
  querySelector: (selector) => root.querySelector(selector),
  querySelectorAll: (selector) => root.querySelectorAll(selector),
};

function setPage(plain) {
  root = new Plain(plain);
  return byId.size;
}

function summary(codes) {
  const { at, minutes, odds, steps } = followed(codes);
  return { at: at.attributes.id, minutes, odds, steps };
}
