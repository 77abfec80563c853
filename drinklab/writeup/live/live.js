"use strict";
// What a reader changes, and what the page answers. Words and figures come in the data; a name is only ever text.
(() => {
  const root = document.querySelector(".try"), held = root && root.querySelector(".try-data");
  if (!held) return;
  const data = JSON.parse(held.textContent), words = data.words;
  const parts = name => [...root.querySelectorAll(`[data-part="${name}"]`)];
  const part = name => parts(name)[0];

  const made = (kind, attributes = {}, ...inside) => {
    const element = document.createElement(kind);
    for (const name of Object.keys(attributes)) element.setAttribute(name, attributes[name]);
    element.append(...inside);
    return element;
  };

  // --- numbers and words -----------------------------------------------------------------------------------

  const chosen = {...data.units.chosen};
  const written = () => ({
    serves: data.drink.serves, pours: data.pours.map(pour => pour.amount), abv: data.pours.map(pour => pour.abv),
    melt: data.melt.set,
  });
  let setting = written(), found = null;

  const strength = data.figures.find(one => one.name === "abv"), strengthUnit = strength.unit;
  const fixed = (value, digits, plus = "") => {
    const text = Math.abs(value).toFixed(digits);
    if (Number(text) === 0) return text;
    return (value < 0 ? data.units.minus : plus) + text;
  };

  const kindOf = figure => {
    if (figure.unit === "mL") {
      const ml = data.units.volume[chosen.volume];
      return {unit: chosen.volume, rounding: chosen.volume, per: 1 / ml, from: 0};
    }
    if (figure.unit in data.units.temperature) {
      const {times, plus} = data.units.temperature[chosen.temperature];
      return {unit: chosen.temperature, rounding: figure.rounding, per: times, from: plus};
    }
    return {unit: figure.unit, rounding: figure.rounding, per: 1, from: 0};
  };
  const digitsOf = (kind, value) => {
    const rounding = data.roundings[kind.rounding];
    return Math.abs(value) < rounding.below ? rounding.finer : rounding.digits;
  };
  const isNothing = (value, digits) => Number(value.toFixed(digits)) === 0;
  // A strength above 0 is never written as 0: it has more decimals, or is under the finest of them.
  const finely = (figure, there) => {
    let digits = digitsOf(kindOf(figure), there);
    if (figure.unit !== strengthUnit || !(there > 0)) return {text: fixed(there, digits), digits};
    const {finest, under} = data.units.strength;
    while (digits < finest && isNothing(there, digits)) digits += 1;
    return {text: isNothing(there, digits) ? `${under} ${fixed(data.units.least[digits], digits)}` : fixed(there, digits), digits};
  };
  // In a box that is typed into; what is more than nothing stays so.
  const boxed = (value, digits) => (
    value > 0 && isNothing(value, digits) ? String(Number(value.toPrecision(1))) : fixed(value, digits));
  const shown = (figure, value) => {
    const kind = kindOf(figure);
    return finely(figure, value * kind.per + kind.from).text;
  };
  const withPm = (figure, {value, pm}) => {
    const kind = kindOf(figure), {text, digits} = finely(figure, value * kind.per + kind.from);
    const around = pm > 0 ? ` ± ${Math.max(pm * kind.per, data.units.least[digits]).toFixed(digits)}` : "";
    return text + around;
  };
  const changed = (figure, difference, at) => {
    const kind = kindOf(figure);
    return fixed(difference * kind.per, digitsOf(kind, at * kind.per + kind.from), "+");
  };
  const withUnit = (text, unit) => (unit ? `${text} ${unit}` : text);
  const volumeText = ml => withUnit(shown(data.figures.find(one => one.name === "volume"), ml), chosen.volume);

  const say = (code, put = {}) => words[code].map(piece => (typeof piece === "string" ? piece : put[piece.put])).join("");

  // A number as it is typed, with a point or a comma; null for what is none, or reads in two ways.
  const number = text => {
    const plain = text.trim().replace(data.units.minus, "-");
    if (!/^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/.test(plain) || /^[+-]?[1-9]\d{0,},\d\d\d$/.test(plain)) return null;
    return Number(plain.replace(",", "."));
  };

  // --- what can be changed -----------------------------------------------------------------------------------

  const controls = [];
  // A box and a slider of one number. `get` and `set` are in the package's units, `unit()` says how it is shown.
  const control = ({label, get, set, unit, high, plain, slider = true}) => {
    const id = `try-${controls.length}`;
    const box = made("input", {id, inputmode: "decimal", autocomplete: "off"});
    const sign = made("span", {class: "try-sign"});
    const name = made("label", {for: id}, label);
    const reach = slider ? made("input", {type: "range", min: "0", "aria-label": label}) : null;
    const row = made("div", {class: slider ? "try-row" : "try-row small"}, name, made("span", {class: "try-box"}, box, sign));
    if (reach) row.append(reach);
    const one = {box, row, show: anew => {
      const {sign: text, ml, digits, step, reach: most} = unit();
      sign.textContent = text;
      if (anew || document.activeElement !== box) box.value = boxed(get() / ml, digits);
      box.removeAttribute("aria-invalid");
      box.disabled = Boolean(one.still && one.still());
      if (reach) {
        reach.max = String(Math.max(most, get()) / ml);
        reach.step = String(step);
        reach.value = String(get() / ml);
        reach.setAttribute("aria-valuetext", withUnit(boxed(get() / ml, digits), text));
        reach.disabled = box.disabled;
      }
    }};
    const take = (value, from) => {
      const {ml} = unit();
      const amount = value === null ? NaN : value * ml;
      if (!(amount >= 0 && amount <= high) || (plain && !(Number.isInteger(amount) && amount >= 1))) {
        from.setAttribute("aria-invalid", "true");
        wrong(say("number", {what: label, low: plain ? String(1) : String(0), high: fixed(high / ml, 0)}));
        return;
      }
      set(amount);
      answer(true);
    };
    box.addEventListener("input", () => take(number(box.value), box));
    box.addEventListener("change", () => { if (box.getAttribute("aria-invalid") === null) one.show(true); });
    if (reach) reach.addEventListener("input", () => take(Number(reach.value), box));
    controls.push(one);
    return one;
  };

  const serves = () => control({
    label: words.labels.serves, get: () => setting.serves, high: data.drink.most_serves, plain: true, slider: false,
    unit: () => ({sign: "", ml: 1, digits: 0}),
    set: value => {
      setting.pours = setting.pours.map(ml => ml * value / setting.serves);
      setting.serves = value;
    },
  });
  const pours = () => data.pours.map((pour, i) => {
    const amount = control({
      label: pour.after ? `${pour.name} (${words.labels.top})` : pour.name, high: data.limits.pour,
      get: () => setting.pours[i], set: value => { setting.pours[i] = value; },
      unit: () => ({...pour.units[chosen.volume], reach: pour.reach * setting.serves / data.drink.serves}),
    });
    const abv = pour.fixed ? null : control({
      label: `${words.labels.strength} ${pour.name}`, get: () => setting.abv[i], high: data.limits.abv, slider: false,
      set: value => { setting.abv[i] = value; },
      unit: () => ({sign: strengthUnit, ml: 1, digits: data.roundings.other.digits}),
    });
    return made("div", {class: "try-pour"}, amount.row, ...(abv ? [abv.row] : []));
  });
  const melt = () => {
    const one = control({
      label: words.labels.melt, high: data.melt.most, get: () => (setting.melt === null ? found.melt : setting.melt),
      set: value => { setting.melt = value; },
      unit: () => ({sign: "%", ml: 1 / data.density.hundred, digits: data.roundings.other.digits, step: 1, reach: data.melt.reach}),
    });
    one.still = () => setting.melt === null;
    const tick = made("input", {type: "checkbox"});
    tick.addEventListener("change", () => {
      setting.melt = tick.checked ? null : found.melt;
      answer(true);
    });
    controls.push({show: () => { tick.checked = setting.melt === null; }});
    return made("div", {class: "try-pour"}, one.row, made("label", {class: "try-tick"}, tick, ` ${words.labels.rule}`));
  };

  // --- what is answered --------------------------------------------------------------------------------------

  const wrong = text => { part("wrong").textContent = text; };
  const brief = made("p", {class: "try-brief", "aria-hidden": "true"});
  root.querySelector(".try-form").prepend(brief);
  const cells = data.figures.map(figure => {
    const mine = made("td"), then = made("td"), change = made("td"), unit = made("span", {class: "try-quiet"});
    part("figures").append(made("tr", {}, made("th", {scope: "row"}, figure.word, " ", unit), mine, then, change));
    return {figure, mine, then, change, unit};
  });

  const ratioWord = acid => (acid > 0 ? words.labels.few : words.labels.none);
  const showFigures = () => {
    const now = found.figures, then = data.written;
    for (const {figure, mine, then: was, change, unit} of cells) {
      const ratio = figure.name === "sugar_to_acid", value = now[figure.name], old = then[figure.name];
      const [known, before] = [now.acid, then.acid.value].map(acid => !ratio || acid >= data.limits.acid);
      unit.textContent = kindOf(figure).unit;
      mine.textContent = known ? shown(figure, value) : ratioWord(now.acid);
      was.textContent = before ? withPm(figure, old) : ratioWord(then.acid.value);
      change.textContent = known && before ? changed(figure, value - old.value, value) : "";
    }
  };

  const showAlcohol = () => {
    const {least} = data.alcohol, digits = data.roundings.other.digits;
    const few = value => (value > 0 && value < least ? `${data.units.strength.under} ${least}` : fixed(value, digits));
    const put = {
      alcohol: few(found.grams), drinks: few(found.drinks), abv: shown(strength, found.figures.abv),
      volume: volumeText(found.figures.volume),
    };
    part("alcohol").textContent = say("alcohol", put);
    const said = drinklabSums.cautions(data, setting, found).map(code => made("p", {}, say(code, put)));
    part("cautions").replaceChildren(...said);
  };

  const showChart = () => {
    const near = drinklabSums.nearest(data, found.figures);
    const family = data.classics.family || near[0].family, named = near.slice(0, data.classics.named);
    const names = named.map(one => `${one.name} (${fixed(one.far, data.roundings.other.digits)})`).join(", ");
    const then = Object.fromEntries(data.classics.axes.map(axis => [axis, data.written[axis].value]));
    const put = {names};
    for (const axis of data.classics.axes) put[axis] = shown(data.figures.find(one => one.name === axis), found.figures[axis]);
    parts("panel").forEach((svg, i) => {
      const of = {mine: found.figures, written: then, near: named, family};
      drinklabChart.draw(svg, data, data.chart.up[i], of);
      svg.setAttribute("aria-label", say("chart", put));
    });
    part("family").textContent = family;
    part("near").textContent = say("near", {names});
  };

  // What is seen at once while a finger is on a slider, and told aloud once it rests.
  const told = () => cells.filter(({figure}) => data.told.includes(figure.name)).map(({figure, mine, unit}) => [
    figure.word, withUnit(mine.textContent, unit.textContent)]);
  const showBrief = () => {
    brief.replaceChildren(...told().map(([word, text]) => made("span", {}, made("small", {}, word), ` ${text}`)));
  };
  let waiting = 0;
  const tell = () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => {
      part("said").textContent = told().map(words => words.join(" ")).join(", ");
    }, data.wait);
  };

  const answer = byReader => {
    let next;
    try {
      next = drinklabSums.solve(data, setting);
    } catch (refused) {
      if (!refused.code) throw refused;
      wrong(say(refused.code, {name: refused.name, volume: refused.most === undefined ? "" : volumeText(refused.most)}));
      controls.forEach(one => one.show(false));
      root.classList.add("old");
      return;
    }
    found = next;
    root.classList.remove("old");
    wrong("");
    controls.forEach(one => one.show(false));
    const rule = setting.melt === null ? "melt rule" : "melt hand";
    const share = fixed(data.density.hundred * found.melt, data.roundings.other.digits);
    part("melt").textContent = say(rule, {share, volume: volumeText(found.melted)});
    showFigures();
    showBrief();
    showAlcohol();
    showChart();
    if (byReader) tell();
  };

  const about = () => {
    const lines = words.about[`${chosen.volume} ${chosen.temperature}`];
    root.querySelector(".try-about").replaceChildren(...lines.map(line => made("p", {}, line)));
    part("stage").textContent = words.labels.stage;
  };

  for (const choice of Object.keys(chosen)) {
    for (const radio of root.querySelectorAll(`input[name="try-${choice}"]`)) {
      radio.addEventListener("change", () => {
        chosen[choice] = radio.value;
        about();
        answer(false);
        drinklabOwn.show();
      });
    }
  }
  part("back").addEventListener("click", () => {
    setting = written();
    answer(true);
  });
  root.querySelector(".try-form").addEventListener("submit", event => event.preventDefault());

  const drinklabOwn = drinklabMeasured({
    data, part, made, say, number, kindOf, shown, withPm, changed, withUnit, worked: () => found.figures,
  });

  found = {melt: data.melt.written};
  part("rows").append(made("div", {class: "try-pour"}, serves().row), ...pours(), melt());
  about();
  answer(false);
  drinklabOwn.show();
  root.querySelector(".try-off").hidden = true;
  root.querySelector(".try-on").hidden = false;
})();
