/* Words: all of them stand in one file of words; here they are only filled in. */

var WORDS = DATA.words;
var plural = new Intl.PluralRules(WORDS.lang), listing = new Intl.ListFormat(WORDS.lang, { type: "conjunction" });

function say(key, values) {
  var text = WORDS[key];
  if (text === undefined && values && values.n !== undefined) {
    text = WORDS[key + "_" + plural.select(values.n)];
    if (text === undefined) { text = WORDS[key + "_other"]; }
  }
  return text.replace(/\{(\w+)\}/g, function (whole, name) { return values && name in values ? values[name] : whole; });
}

function listed(parts) { return listing.format(parts.map(String)); }
function big(text) { return text.charAt(0).toLocaleUpperCase(WORDS.lang) + text.slice(1); }

/* A step as it is read out: notch and colour, knots over which notches, where it rests. */
function spoken(pass, from, colour) {
  var moves = [], k = from;
  while (k < pass.ids.length) {
    var code = pass.codes[k], over = [];
    for (; k < pass.ids.length && pass.codes[k] === code; k++) { over.push(notchOf(pass.cores[k])); }
    var first = over[0], last = over[over.length - 1];
    var notches = over.length > 5 ? say(last > first ? "say_to" : "say_down_to", { a: first, b: last }) : listed(over);
    moves.push(say("say_moves", { knot: say("knot_" + codeSeen(code)), notches: notches }));
  }
  var start = notchOf(pass.places[from]), end = notchOf(pass.end);
  var rest = start !== end ? "say_rest" : pass.ids.length - from === 1 ? "say_stay" : "say_back";
  return say("say_step", { notch: start, colour: colour, moves: big(moves.join(say("say_then"))), rest: say(rest, { n: end }) });
}

function timeWords(seconds) {
  var n = Math.round(seconds / 300) * 5;
  if (n < 5) { return say("less_than"); }
  return n < 60 ? say("minutes", { n: n }) : say("hours", { h: Math.floor(n / 60), n: n % 60 });
}

var voice = { on: false, rate: 1, there: "speechSynthesis" in window && "SpeechSynthesisUtterance" in window };
function readAloud(text) {
  if (!voice.on || !voice.there) { return; }
  speechSynthesis.cancel();
  var said = new SpeechSynthesisUtterance(text);
  said.lang = WORDS.lang;
  said.rate = voice.rate;
  speechSynthesis.speak(said);
}
