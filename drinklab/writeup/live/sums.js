"use strict";
// A drink worked out again by the published formulas of its page. Every figure of theirs comes in `data`, which the
// package wrote; nought and one are the only numbers here. What is refused is thrown as {code, ...}.
const drinklabSums = (() => {
  // Coefficients in rising powers, from the highest down.
  const powers = (coefficients, x) => coefficients.reduceRight((sum, c) => sum * x + c, 0);

  const total = (grams, names) => names.reduce((sum, name) => sum + (grams[name] || 0), 0);

  const pourTogether = (into, other, times) => {
    for (const name of Object.keys(other)) into[name] = (into[name] || 0) + times * other[name];
    return into;
  };

  const times = (grams, factor) => pourTogether({}, grams, factor);

  // Straight between points; level beyond their ends.
  const between = (x, at, values) => {
    if (x <= at[0]) return values[0];
    const i = at.findIndex(point => point >= x);
    if (i < 0) return values[values.length - 1];
    return values[i - 1] + (values[i] - values[i - 1]) * (x - at[i - 1]) / (at[i] - at[i - 1]);
  };

  // Volume of grams of each component at 20 °C: ethanol and water, sugars in the water, what else is dissolved. [mL]
  const volume = (data, grams) => {
    const formula = data.density, held = data.liquid;
    const water = grams.water || 0, base = water + (grams.ethanol || 0);
    const share = base ? (grams.ethanol || 0) / base : 0;
    let ml = base * formula.thousand / powers(formula.ethanol_water, share);
    const sugar = total(grams, held.sugars);
    if (sugar) {
      const part = sugar / (sugar + water), slope = powers(formula.sucrose, part), pure = formula.water;
      ml += sugar * formula.thousand * (pure - (1 - part) * slope) / ((pure + part * slope) * pure);
      for (const name of Object.keys(held.offsets)) ml += held.offsets[name] * (grams[name] || 0);
    }
    for (const name of Object.keys(held.volumes)) ml += held.volumes[name] * (grams[name] || 0);
    return ml;
  };

  const strength = (data, grams, ml) => data.density.hundred * (grams.ethanol || 0) / (data.density.ethanol * ml);

  // A millilitre of a pour from a bottle of so many % vol: what is dissolved stays, water fills it up. [g]
  const millilitre = (data, pour, abv) => {
    const held = {...pour.held, ethanol: abv / data.density.hundred * data.density.ethanol};
    if (!pour.liquid) return held;
    const fill = data.fill;
    const weight = Object.values(held).reduce((sum, grams) => sum + grams, 0);
    let water = Math.max(1 - weight, fill.first), off = 0;
    for (let round = 0; round < fill.rounds; round += 1) {
      off = volume(data, {...held, water}) - 1;
      water = Math.max(water - off, fill.least);
      if (Math.abs(off) < fill.near) break;
    }
    if (!(Math.abs(off) < fill.fits)) throw {code: "bottle", name: pour.name};
    return {...held, water};
  };

  // Melt water by the rule of the technique, as a share of the volume before ice.
  const meltByRule = (data, before, after) => {
    const rule = data.melt.rule;
    const iced = rule.with_top ? pourTogether(times(before, 1), after, 1) : before;
    const ml = volume(data, iced), abv = strength(data, iced, ml);
    let share = rule.fixed;
    if (rule.powers) {
      if (abv > rule.most) throw {code: "melt"};
      share = abv < rule.least ? between(abv, rule.strengths, rule.shares) : powers(rule.powers, abv / data.density.hundred);
    }
    return share * ml / volume(data, before);
  };

  const withWater = (data, grams, ml) => pourTogether(times(grams, 1), {water: data.density.added}, ml);

  const step = (data, told, grams, factor) => {
    if (told.do === "water") {
      return withWater(data, grams, told.amount === null ? told.share * volume(data, grams) : told.amount * factor);
    }
    if (told.do === "filter") return times(grams, 1 - Math.min(told.keeps / volume(data, grams), told.most));
    return grams;
  };

  const figures = (data, grams) => {
    const ml = volume(data, grams), formula = data.density;
    const sugar = formula.thousand * total(grams, data.liquid.sugars) / ml;
    const acid = formula.thousand * total(grams, data.liquid.acids) / ml;
    return {
      volume: ml,
      mass: Object.values(grams).reduce((sum, part) => sum + part, 0),
      abv: strength(data, grams, ml),
      sugar,
      acid,
      sugar_to_acid: acid > 0 ? sugar / acid : null,
      alcohol: grams.ethanol || 0,
    };
  };

  // `setting`: {serves, pours: [mL], abv: [% vol], melt: share or null for the rule}.
  const solve = (data, setting) => {
    const before = {}, after = {};
    data.pours.forEach((pour, i) => {
      if (setting.pours[i] > 0) {
        pourTogether(pour.after ? after : before, millilitre(data, pour, setting.abv[i]), setting.pours[i]);
      }
    });
    if (!(Object.values(before).reduce((sum, part) => sum + part, 0) > 0)) throw {code: "nothing"};
    const sucrose = before.sucrose || 0;
    if (sucrose && sucrose / (sucrose + (before.water || 0)) > data.limits.sugar) throw {code: "sugar"};
    const mixed = volume(data, before);
    const melt = setting.melt === null ? meltByRule(data, before, after) : setting.melt;
    let drink = pourTogether(withWater(data, before, melt * mixed), after, 1);
    const factor = setting.serves / data.drink.serves;
    for (const told of data.steps) drink = step(data, told, drink, factor);
    const made = figures(data, drink), size = data.drink.serve_volume;
    let part = 1;
    if (data.until.served) {
      if (size !== null && setting.serves * size > made.volume * (1 + data.limits.full)) {
        throw {code: "fill", most: made.volume / setting.serves};
      }
      part = size === null ? 1 / setting.serves : Math.min(size / made.volume, 1);
    }
    const glass = figures(data, times(drink, part));
    const grams = (data.until.served ? glass.alcohol : made.alcohol / setting.serves) + data.alcohol.beside;
    return {figures: glass, made: made.volume, melt, melted: melt * mixed, grams, drinks: grams / data.alcohol.size};
  };

  // What is to be said of so strong a serve: codes of its sentences.
  const cautions = (data, setting, found) => {
    const {strong, glass} = data.alcohol, said = [];
    if (found.grams >= strong.grams || found.figures.abv >= strong.abv) {
      said.push(data.until.served && found.figures.volume > glass ? "batch" : "strong");
    }
    if (data.pours.some((pour, i) => setting.pours[i] > 0 && setting.abv[i] > strong.overproof)) said.push("overproof");
    return said;
  };

  // How far each classic lies, nearest first: [{name, family, far}].
  const nearest = (data, of) => {
    const known = data.classics;
    const far = known.names.map((name, i) => {
      const sum = known.axes.reduce((sum, axis) => {
        const steps = (known[axis][i] - of[axis]) / known.scales[axis];
        return sum + steps * steps;
      }, 0);
      return {name, family: known.families[i], far: Math.sqrt(sum / known.axes.length)};
    });
    return far.sort((one, other) => one.far - other.far);
  };

  return {solve, cautions, nearest};
})();
