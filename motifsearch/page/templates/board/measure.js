/* Measured, not typed: what is left of each strand becomes a measurement that `motifsearch calibrate`
   reads (motifsearch.thread.measurement). Lengths are told in cm or inches and written in mm. */

var UNIT_MM = DATA.show === "imperial" ? 25.4 : 10, UNIT = say("unit_" + DATA.show), measurement = "";
function inUnit(mm) { return String(Math.round(mm / UNIT_MM * 10) / 10); }

function openMeasure() {
  closePanel();
  $("measure-rows").value = place.at >= PASSES.length ? R : place.at ? rowOf(PASSES[place.at - 1].ids[0]) + 1 : 0;
  var list = $("measure-left");
  if (!list.children.length) {
    DATA.cuts.forEach(function (cut) {
      cut.strands.forEach(function (s) {
        var id = "left-" + s, name = say("measure_strand", { thread: cut.label, n: notchOf(s - 1), colour: DATA.names[DATA.order[s - 1]] });
        list.append(el("div", { "class": "field" }, [square(DATA.order[s - 1]), el("label", { "for": id }, name), el("input", { id: id, type: "number", min: 0, step: "any", inputmode: "decimal", "data-strand": s })]));
      });
    });
  }
  openPanel("measure");
}

function number(id) {
  var text = $(id).value.trim().replace(",", ".");
  return text === "" ? NaN : Number(text);
}

/* The most that a strand can have left: its own part of the thread, less the start. */
function mostLeft(cut, k) {
  var part = cut.strands.length === 1 ? cut.length : cut.fold === null ? cut.length : k ? cut.length - cut.fold : cut.fold;
  return part - DATA.startMm;
}

function makeMeasurement() {
  var rows = number("measure-rows"), long = number("measure-length") * UNIT_MM, wide = number("measure-width") * UNIT_MM, bad = [];
  if (!(Number.isInteger(rows) && rows >= 10)) { bad.push(say("measure_bad_rows")); }
  if (!(long >= DATA.shortestMm && long <= DATA.longestMm)) { bad.push(say("measure_bad_length", { a: inUnit(DATA.shortestMm), b: inUnit(DATA.longestMm), unit: UNIT })); }
  var used = 0, reckoned = 0, tables = DATA.cuts.map(function (cut) {
    var left = cut.strands.map(function (s, k) {
      var mm = number("left-" + s) * UNIT_MM, most = mostLeft(cut, k);
      if (!(mm >= 0 && mm < most)) {
        bad.push(say("measure_bad_left", { strand: say("measure_strand", { thread: cut.label, n: notchOf(s - 1), colour: DATA.names[DATA.order[s - 1]] }), most: inUnit(most), unit: UNIT }));
      }
      return Math.round(mm * 10) / 10;
    });
    used += cut.length - cut.strands.length * DATA.startMm - left.reduce(function (a, b) { return a + b; }, 0);
    reckoned += cut.need.reduce(function (a, b) { return a + b; }, 0) * rows / R;
    return ["", "[[cuts]]", "strands = [" + cut.strands.join(", ") + "]", "length_mm = " + cut.length, "left_mm = [" + left.join(", ") + "]"]
      .concat(cut.fold === null ? [] : ["fold_mm = " + cut.fold]).join("\n");
  });
  var out = $("measure-out"), own = ownPace();
  out.replaceChildren();
  measurement = "";
  if (bad.length) { out.append(el("ul", { "class": "bad" }, bad.map(function (line) { return el("li", {}, line); }))); return; }
  measurement = ['format = "motifsearch-measurement-1"', 'pattern = "pattern.toml"', "rows_knotted = " + rows, "finished_length_mm = " + Math.round(long * 10) / 10]
    .concat(wide > 0 ? ["width_mm = " + Math.round(wide * 10) / 10] : [], ["diameter_mm = " + DATA.thickness, "start_mm = " + DATA.startMm],
      own === null ? [] : ["minutes_per_knot = " + Math.round(own / 60 * 1000) / 1000], tables).join("\n") + "\n";
  var share = used / reckoned;
  out.append(el("p", {}, say("measure_used", { n: Math.round(share * 100) + " %" })));
  if (share < 0.5 || share > 2) { out.append(el("p", { "class": "bad" }, say("measure_odd"))); }
  out.append(el("pre", { id: "measurement", tabindex: "0" }, measurement),
    el("div", { "class": "choices" }, [saver("measurement.toml", measurement, "measure_save"), saver("pattern.toml", DATA.pattern, "measure_pattern")]),
    el("p", { "class": "soft" }, say("measure_next")));
}

function saver(name, text, word) {
  return el("button", { type: "button", onclick: function () {
    var address = URL.createObjectURL(new Blob([text], { type: "application/toml" })), link = el("a", { href: address, download: name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(function () { URL.revokeObjectURL(address); }, 5000);
  } }, say(word));
}
