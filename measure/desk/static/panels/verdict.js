// Verdict: what the findings say about the toy and each part, why, and what to check next.

import { desk, go } from "../desk.js";
import { h } from "../dom.js";
import { startDraft } from "../marking.js";
import { bands } from "./bands.js";
import { buttons, fine } from "./fields.js";

const MARK = { fits: "✓", "fits none": "✗", "cannot tell": "?", missing: "–" };

function doNext(one) {
  if (one.action === "measure") startDraft(one.part, one.feature);
  else go("note");
}

function chances(verdict) {
  return h(
    "ul",
    { class: "chances" },
    verdict.chances.map((one) => {
      const bar = h("i", { "aria-hidden": "true" });
      bar.style.width = `${Math.max(0.5, one.percent)}%`;
      return h(
        "li",
        { "data-key": one.id },
        h("span", null, one.name),
        h("span", { class: "track" }, bar),
        h("b", null, one.text),
      );
    }),
  );
}

function reasons(lines) {
  const list = (some) =>
    h(
      "ul",
      { class: "plain" },
      some.map((line) => h("li", null, line)),
    );
  if (!lines.length) return null;
  return h(
    "section",
    { "data-key": "reasons" },
    h("h4", null, "Why"),
    list(lines.slice(0, 3)),
    lines.length > 3
      ? h(
          "details",
          { "data-key": "more" },
          h("summary", null, `${lines.length - 3} more`),
          list(lines.slice(3)),
        )
      : null,
  );
}

function partVerdict(part, legend) {
  return h(
    "section",
    { class: `part judged${part.foreign ? " foreign" : ""}`, "data-key": part.id },
    h(
      "h4",
      null,
      h("span", { class: "sign", "aria-hidden": "true" }, part.foreign ? "≠" : (MARK[part.outcome] ?? "?")),
      part.name,
      part.tag ? h("em", null, part.tag) : null,
    ),
    h("p", null, part.text),
    part.bands.map((one, index) => bands(one, legend && index === 0)),
    part.notes.length
      ? h(
          "ul",
          { class: "plain" },
          part.notes.map((line) => h("li", null, line)),
        )
      : null,
  );
}

function nothingYet(why, note = false) {
  return h(
    "section",
    { class: "grade", "data-key": "nothing-yet" },
    h("p", null, why),
    buttons(
      h("button", { class: "main", onclick: () => go("measure") }, "Go to Measure"),
      note ? h("button", { onclick: () => go("note") }, "Go to Note") : null,
    ),
  );
}

export function verdictPanel() {
  const { verdict, judging } = desk.state;
  if (!desk.sheet)
    return nothingYet(
      "A verdict compares your findings with a release sheet. Choose one under Measure, “Compare with”.",
    );
  if (!verdict && judging) return h("p", null, "Working it out…");
  if (!verdict)
    return nothingYet(
      desk.state.verdict_trouble ?? "Measure a part, or note what you see on it; the verdict appears here.",
      true,
    );
  return [
    h(
      "section",
      { class: `outcome ${verdict.mark}`, "data-key": "outcome" },
      h("h3", null, h("span", { class: "sign", "aria-hidden": "true" }, verdict.sign), verdict.headline),
      verdict.doubts.map((line) => h("p", null, line)),
      verdict.chances.length ? chances(verdict) : null,
    ),
    verdict.parts.map((part) => partVerdict(part, part === verdict.parts.find((one) => one.bands.length))),
    reasons(verdict.reasons),
    verdict.next.length
      ? h(
          "section",
          { "data-key": "next" },
          h("h4", null, "Check next"),
          h(
            "ul",
            { class: "rows next" },
            verdict.next.map((one) =>
              h(
                "li",
                { "data-key": `${one.part}/${one.feature}` },
                h("span", null, one.text),
                one.action
                  ? h(
                      "button",
                      { class: "small", onclick: () => doNext(one) },
                      one.action === "measure" ? "Measure it" : "Note it",
                    )
                  : null,
              ),
            ),
          ),
        )
      : null,
    fine(verdict.rule),
    fine(verdict.caution),
  ];
}
