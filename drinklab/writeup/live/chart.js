"use strict";
// A drink among the classics, drawn anew into an <svg>: sizes and steps come in `data.chart`, looks from the style sheet.
const drinklabChart = (() => {
  const put = (svg, kind, look, attributes, text) => {
    const made = document.createElementNS(svg.namespaceURI, kind);
    made.setAttribute("class", look);
    for (const name of Object.keys(attributes)) made.setAttribute(name, String(attributes[name]));
    if (text !== undefined) made.textContent = text;
    svg.append(made);
    return made;
  };

  // An axis wide enough for the classics and for what is shown, and the step between its figures.
  const axis = (chart, name, shown) => {
    const step = chart.steps[name], reach = Math.max(chart.tops[name], ...shown.map(of => of[name]));
    const wide = step * Math.ceil(reach / step / chart.labels);
    return {top: wide * Math.ceil(reach / wide), step: wide};
  };

  const draw = (svg, data, up, {mine, written, near, family}) => {
    const {chart, classics, figures} = data;
    const across = chart.across, shown = written ? [mine, written] : [mine];
    const right = axis(chart, across, shown), high = axis(chart, up, shown);
    const x = value => chart.left + (chart.width - chart.left - chart.right) * value / right.top;
    const y = value => chart.height - chart.bottom - (chart.height - chart.top - chart.bottom) * value / high.top;
    const title = name => {
      const figure = figures.find(one => one.name === name);
      return `${figure.word} [${figure.unit}]`;
    };
    svg.replaceChildren();
    svg.setAttribute("viewBox", [0, 0, chart.width, chart.height].join(" "));
    for (let value = 0; value <= right.top; value += right.step) {
      put(svg, "line", "grid", {x1: x(value), x2: x(value), y1: y(0), y2: chart.top});
      put(svg, "text", "low", {x: x(value), y: y(0) + chart.text + chart.gap}, String(value));
    }
    for (let value = 0; value <= high.top; value += high.step) {
      put(svg, "line", "grid", {x1: x(0), x2: chart.width - chart.right, y1: y(value), y2: y(value)});
      put(svg, "text", "side", {x: x(0) - chart.gap, y: y(value) + chart.gap}, String(value));
    }
    put(svg, "text", "low title", {x: x(right.top * chart.half), y: chart.height - chart.gap}, title(across));
    put(svg, "text", "up title", {x: 0, y: chart.text}, title(up));
    classics.names.forEach((name, i) => {
      const mark = put(svg, "circle", classics.families[i] === family ? "classic family" : "classic", {
        cx: x(classics[across][i]), cy: y(classics[up][i]), r: chart.dot,
      });
      put(mark, "title", "", {}, name);
    });
    for (const {name} of near) {
      const i = classics.names.indexOf(name);
      put(svg, "circle", "near", {cx: x(classics[across][i]), cy: y(classics[up][i]), r: chart.near});
    }
    if (written) {
      put(svg, "circle", "written", {cx: x(written[across]), cy: y(written[up]), r: chart.written});
    }
    put(svg, "circle", "me", {cx: x(mine[across]), cy: y(mine[up]), r: chart.me});
  };

  return {draw};
})();
