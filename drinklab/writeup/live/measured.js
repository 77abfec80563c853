"use strict";
// What a reader measured, beside the drink as written: kept in this browser where that is let, saved as a file.
const drinklabMeasured = ({data, part, made, say, number, kindOf, shown, withPm, changed, withUnit, worked}) => {
  const own = data.own, key = `drinklab ${data.mark}`;
  const figureOf = name => own.rows.find(one => one.name === name);
  let rows = [], keeps = true, damaged = false;

  const sound = row => Boolean(
    row && figureOf(row.figure) && Number.isFinite(row.value) && (row.pm === null || Number.isFinite(row.pm))
    && typeof row.note === "string" && typeof row.day === "string" && (row.worked === null || Number.isFinite(row.worked)));

  const load = () => {
    let text = null;
    try {
      text = localStorage.getItem(key);
      localStorage.setItem(`${key} try`, "");
      localStorage.removeItem(`${key} try`);
    } catch {
      keeps = false;
      return;
    }
    if (text === null) return;
    try {
      const read = JSON.parse(text);
      if (!Array.isArray(read) || !read.every(sound)) throw new TypeError("not as this page keeps it");
      rows = read;
    } catch {
      damaged = true;
      localStorage.setItem(`${key} set aside ${new Date().toISOString()}`, text);
    }
  };

  const keep = () => {
    if (!keeps) return;
    try {
      localStorage.setItem(key, JSON.stringify(rows));
    } catch {
      keeps = false;
    }
  };

  // Whether a difference lies within both ±, within the two together, or further apart.
  const verdict = (figure, row) => {
    const far = Math.abs(row.value - figure.value);
    if (figure.pm === null) return "no pm";
    if (row.pm === null) return far <= figure.pm ? "theirs" : "beyond";
    if (far <= figure.pm && far <= row.pm) return "both";
    return far <= Math.hypot(figure.pm, row.pm) ? "together" : "apart";
  };

  const cells = row => {
    const figure = figureOf(row.figure), unit = kindOf(figure).unit;
    const known = figure.value !== null;
    return {
      figure: withUnit(figure.word, unit && `[${unit}]`),
      yours: withPm(figure, row),
      written: known ? withPm(figure, figure) : "",
      difference: known ? changed(figure, row.value - figure.value, row.value) : "",
      agrees: known ? say(verdict(figure, row)) : "",
      note: row.note,
    };
  };

  const show = () => {
    const what = part("what"), picked = what.value || own.rows[0].name;
    what.replaceChildren(...own.rows.map(one => made("option", {value: one.name}, withUnit(one.word, kindOf(one).unit && `[${kindOf(one).unit}]`))));
    what.value = picked;
    part("unit").textContent = kindOf(figureOf(picked)).unit;
    part("measured").hidden = rows.length === 0;
    part("export").disabled = rows.length === 0;
    part("measured-rows").replaceChildren(...rows.map((row, i) => {
      const told = cells(row);
      const out = made("button", {type: "button", "aria-label": `${data.words.labels.out}: ${told.figure} ${told.yours}`}, "×");
      out.addEventListener("click", () => {
        rows.splice(i, 1);
        keep();
        show();
        part("value").focus();
      });
      const line = made("tr", {}, made("th", {scope: "row"}, told.figure));
      for (const name of ["yours", "written", "difference", "agrees", "note"]) line.append(made("td", {class: `try-${name}`}, told[name]));
      line.append(made("td", {class: "try-out"}, out));
      return line;
    }));
    const several = own.rows.filter(one => one.value !== null && rows.filter(row => row.figure === one.name).length > 1);
    part("several").replaceChildren(...several.map(figure => {
      const of = rows.filter(row => row.figure === figure.name);
      const mean = of.reduce((sum, row) => sum + row.value - figure.value, 0) / of.length;
      const difference = withUnit(changed(figure, mean, figure.value), kindOf(figure).unit);
      return made("p", {}, say("several", {figure: figure.word, count: String(of.length), difference}));
    }));
    part("kept").textContent = [say(keeps ? "kept" : "not kept"), ...(damaged ? [say("damaged")] : [])].join(" ");
  };

  const add = event => {
    event.preventDefault();
    const figure = figureOf(part("what").value), kind = kindOf(figure);
    const typed = number(part("value").value), around = part("pm").value.trim();
    const pm = around ? number(around) : null;
    const value = typed === null ? NaN : (typed - kind.from) / kind.per;
    if (!(value >= figure.low && value <= figure.high) || (around && !(pm >= 0)) || (around && pm === null)) {
      const [low, high] = [figure.low, figure.high].map(end => shown(figure, end));
      part("own-wrong").textContent = say("measure", {what: figure.word, low, high});
      part("value").setAttribute("aria-invalid", "true");
      return;
    }
    if (rows.length >= own.most) {
      part("own-wrong").textContent = say("full");
      return;
    }
    const now = worked()[figure.name];
    rows = [...rows, {
      figure: figure.name, value, pm: pm === null ? null : pm / kind.per, note: part("note").value.slice(0, own.letters),
      day: new Date().toISOString(), worked: data.until.served && Number.isFinite(now) ? now : null,
    }];
    part("own-wrong").textContent = "";
    part("value").removeAttribute("aria-invalid");
    for (const name of ["value", "pm", "note"]) part(name).value = "";
    keep();
    show();
    part("value").focus();
  };

  // A table for other programs. What a person wrote never begins as a formula of theirs.
  const cell = value => {
    if (typeof value === "number") return String(value);
    const text = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
    return `"${text.replaceAll('"', '""')}"`;
  };
  const csv = () => {
    const lines = rows.map(row => {
      const figure = figureOf(row.figure), kind = kindOf(figure);
      const there = value => (value === null ? "" : value * kind.per + kind.from), wide = pm => (pm === null ? "" : pm * kind.per);
      return [data.drink.name, row.day, figure.word, kind.unit, there(row.value), wide(row.pm), there(figure.value), wide(figure.pm),
        figure.value === null ? "" : (row.value - figure.value) * kind.per, cells(row).agrees, there(row.worked), row.note];
    });
    return [own.columns, ...lines].map(line => line.map(cell).join(",")).join("\r\n") + "\r\n";
  };
  const save = () => {
    const address = URL.createObjectURL(new Blob(["\ufeff", csv()], {type: "text/csv"}));
    const link = made("a", {download: own.file});
    link.href = address;
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), data.wait);
  };

  part("what").addEventListener("change", show);
  part("own").addEventListener("submit", add);
  part("export").addEventListener("click", save);
  load();
  return {show, csv};
};
