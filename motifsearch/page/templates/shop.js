/* What lacks and what to buy. Cuts go best fit, the longest first, into the pieces on hand, and
   what is left over into new skeins the same way: the skeins named are enough; cleverer cutting may
   need fewer now and then. */

/* wants: [name, label, mm] each. Returns those that no piece of their thread is left for. */
function lacking(wants) {
  var left = new Map((DATA.stash || []).map(function (t) { return [t.name, t.pieces.slice()]; }));
  return wants.slice().sort(function (a, b) { return b[2] - a[2]; }).filter(function (want) {
    var pieces = left.get(want[0]) || [], best = -1;
    pieces.forEach(function (p, k) { if (p >= want[2] && (best < 0 || p < pieces[best])) { best = k; } });
    if (best >= 0) { pieces[best] -= want[2]; }
    return best < 0;
  });
}

/* What to buy for the cuts that lack, per colour in the order of first need: millimetres, cuts,
   skeins (0 where a cut is longer than a skein), the skein's length, whether that is assumed, price. */
function shopping(missing) {
  var per = new Map();
  missing.forEach(function (m) {
    if (!per.has(m[0])) { per.set(m[0], []); }
    per.get(m[0]).push(m[2]);
  });
  return Array.from(per.keys()).map(function (name) {
    var thread = (DATA.stash || []).filter(function (t) { return t.name === name; })[0];
    var skein = thread && thread.skein || DATA.skeinMm, cuts = per.get(name).sort(function (a, b) { return b - a; }), open = [];
    cuts.forEach(function (mm) {
      var best = -1;
      open.forEach(function (room, k) { if (room >= mm && (best < 0 || room < open[best])) { best = k; } });
      if (best < 0) { best = open.push(skein) - 1; }
      open[best] -= mm;
    });
    var price = thread && thread.price !== null && thread.price !== undefined ? thread.price : null;
    return { name: name, mm: cuts.reduce(function (a, b) { return a + b; }, 0), cuts: cuts.length, skein: skein,
      skeins: cuts[0] > skein ? 0 : open.length, assumed: !(thread && thread.skein), price: price };
  });
}

function priceText(value) { return value.toFixed(2) + (DATA.currency ? " " + DATA.currency : ""); }

/* "buy 1 skein of 8 m, 1.20 EUR". */
function buyText(item) {
  if (!item.skeins) { return "no skein of " + longText(item.skein) + " is long enough"; }
  return "buy " + item.skeins + (item.skeins === 1 ? " skein of " : " skeins of ") + longText(item.skein) + (item.assumed ? " (a usual skein)" : "") +
    (item.price === null ? "" : ", " + priceText(item.price * item.skeins));
}

/* All prices together, or why there is no sum. */
function sumText(items) {
  var sum = 0;
  for (var n = 0; n < items.length; n++) {
    if (!items[n].skeins || items[n].price === null) { return ""; }
    sum += items[n].price * items[n].skeins;
  }
  return items.length ? priceText(sum) : "";
}

/* The cuts of a design in the colours of now. */
function wantsOf(d, look) {
  return d.cuts.map(function (cut) {
    var k = d.order[cut.strands[0]];
    return [look.names[k] === d.names[k] ? cut.colour : look.names[k], cut.label, cut.length];
  });
}

/* What lacks for one design: the exact plan where it holds, else as `lacking` finds. */
function missingOf(d, look) {
  return d.plan && !look.painted ? d.plan.missing : DATA.stash ? lacking(wantsOf(d, look)) : [];
}

/* What lacks when all of these are made, one after another, from the same threads. */
function missingOfAll(designs, looks) {
  if (designs.length === 1) { return missingOf(designs[0], looks[0]); }
  return DATA.stash ? lacking([].concat.apply([], designs.map(function (d, n) { return wantsOf(d, looks[n]); }))) : [];
}
