// One scale for a dimension: a band for each release, and across them the measured value with its interval.

import { h, s } from "../dom.js";

const SIGN = { fits: "✓", likely: "≈", outside: "✗", unsure: "?", absent: "–" };
const WORD = {
  fits: "fits",
  likely: "probably fits",
  outside: "does not fit",
  unsure: "cannot tell",
  absent: "has no such part",
};
const ROW = 30;

export function bands(one, legend) {
  const high = one.rows.length * ROW;
  const x = (value) => (((value - one.low) / (one.high - one.low)) * 100).toFixed(2);
  const clip = (value) => Math.max(one.low, Math.min(one.high, value));
  const compared = one.rows.map((row) => `${row.name}: ${row.range_text}, ${WORD[row.mark]}.`);
  const said = `${one.name}. Measured ${one.text}. ${compared.join(" ")}`;
  const chart = s(
    "svg",
    {
      class: "bands",
      height: high + 6,
      viewBox: `0 0 100 ${high + 6}`,
      preserveAspectRatio: "none",
      "aria-hidden": "true",
    },
    one.ticks.map(([value]) => s("path", { d: `M${x(value)},0V${high + 6}`, class: "grid" })),
    one.u_low !== null
      ? s("rect", {
          x: x(clip(one.u_low)),
          width: Math.max(0.4, x(clip(one.u_high)) - x(clip(one.u_low))).toFixed(2),
          y: 0,
          height: high,
          class: "interval",
        })
      : null,
    one.rows.map((row, index) =>
      row.low === null
        ? null
        : s("rect", {
            x: x(row.low),
            width: Math.max(0.5, x(row.high) - x(row.low)).toFixed(2),
            y: index * ROW + 8,
            height: ROW - 16,
            class: `band ${row.mark}`,
          }),
    ),
    one.value !== null ? s("path", { d: `M${x(one.value)},0V${high}`, class: "needle" }) : null,
  );
  const numbers = h(
    "div",
    { class: "axis", "aria-hidden": "true" },
    one.ticks.map(([value, name]) => {
      const node = h("span", null, name);
      node.style.left = `${x(value)}%`;
      return node;
    }),
  );
  const names = h(
    "ul",
    { class: "names", "aria-hidden": "true" },
    one.rows.map((row) =>
      h("li", { class: row.mark }, h("span", { class: "who" }, row.name), h("b", null, SIGN[row.mark])),
    ),
  );
  return h(
    "figure",
    { class: "bandset", role: "img", "aria-label": said, "data-key": `${one.part}/${one.feature}` },
    h("figcaption", null, h("span", null, one.name), h("b", null, one.text)),
    h("div", { class: "plot" }, names, h("div", { class: "drawing" }, chart, numbers)),
    legend
      ? h(
          "p",
          { class: "legend", "aria-hidden": "true" },
          "Bars: what each release measures. Line: yours. Shading: where its true length lies, 95 " +
            "times in 100. ✓ fits, ≈ probably fits, ? cannot tell, ✗ does not fit, – no such part.",
        )
      : null,
  );
}
