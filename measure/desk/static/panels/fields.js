// Small pieces that several panels share.

import { ask, desk, photo, speak } from "../desk.js";
import { h } from "../dom.js";

export const field = (text, ...controls) => h("label", { class: "field" }, text, ...controls);
export const buttons = (...all) => h("div", { class: "buttons" }, ...all);
export const fine = (...words) => h("p", { class: "fine" }, ...words);
export const option = (key, chosen, text) => h("option", { value: key, selected: key === chosen }, text);

// A decimal comma is as good as a point.
export const number = (text) => Number(String(text).replace(",", ".").trim());
export const typed = (id) => document.getElementById(id)?.value ?? "";

// What the scale of the photo is taken from, as one says "above the card".
export const scaleName = () =>
  desk.state.scale_kinds.find((one) => one.key === photo()?.scale?.kind)?.thing ?? "card";

// Ask the server, and let screen readers hear what came of it.
export async function tell(what) {
  const answer = await ask(what);
  if (answer.say) speak(answer.say);
  return answer;
}
