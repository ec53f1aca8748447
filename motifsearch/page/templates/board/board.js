/* What taps, keys and pedals do, and the panels. */

var panel = null;
function openPanel(name) {
  panel = $("panel-" + name);
  if (!panel.open) { panel.showModal(); }
}
function closePanel() { if (panel && panel.open) { panel.close(); } }
document.querySelectorAll("dialog").forEach(function (dialog) {
  dialog.addEventListener("close", function () { if (dialog.id === "panel-wrong") { closeWrong(); } panel = null; });
  dialog.querySelector(".close").addEventListener("click", function () { dialog.close(); });
  dialog.addEventListener("click", function (event) { if (event.target === dialog) { dialog.close(); } });
});

var ON_KEYS = ["ArrowRight", "ArrowDown", "PageDown", " ", "Enter"], BACK_KEYS = ["ArrowLeft", "ArrowUp", "PageUp", "Backspace"];
document.addEventListener("keydown", function (event) {
  if (panel || event.ctrlKey || event.metaKey || event.altKey) { return; }
  var tag = event.target.tagName, own = tag === "BUTTON" || tag === "SUMMARY" || tag === "A";
  if (tag === "INPUT" || tag === "SELECT" || tag === "TEXTAREA" || (own && (event.key === " " || event.key === "Enter"))) { return; }
  if (ON_KEYS.indexOf(event.key) >= 0) { event.preventDefault(); goOn(); }
  if (BACK_KEYS.indexOf(event.key) >= 0) { event.preventDefault(); goBack(); }
});
stage.addEventListener("click", function (event) {
  var box = stage.getBoundingClientRect();
  if (event.clientX - box.left < box.width / 3) { goBack(); } else { goOn(); }
});
$("on").addEventListener("click", goOn);
$("back").addEventListener("click", goBack);

$("read").addEventListener("click", function () {
  voice.on = !voice.on;
  $("read").setAttribute("aria-pressed", voice.on);
  $("read").textContent = say(voice.on ? "menu_read_on" : "menu_read");
  if (voice.on) { readAloud(now.text); } else { speechSynthesis.cancel(); }
});
$("read").hidden = !voice.there;
$("find").addEventListener("click", openFind);
$("find-rows").addEventListener("input", found);
$("find-undo").addEventListener("click", function () { seen.pop(); drawFind(); });
$("find-clear").addEventListener("click", function () { seen = []; drawFind(); });
$("wrong").addEventListener("click", openWrong);
$("wrong-cloth").addEventListener("click", tapCloth);
["wrong-kind-knot", "wrong-kind-swap"].forEach(function (id) { $(id).addEventListener("change", showKind); });
["wrong-row", "wrong-gap"].forEach(function (id) { $(id).addEventListener("change", fieldKnot); });
["swap-a", "swap-b", "swap-since"].forEach(function (id) { $(id).addEventListener("change", showSwap); });
$("measure").addEventListener("click", openMeasure);
$("finished-measure").addEventListener("click", openMeasure);
$("measure-make").addEventListener("click", makeMeasurement);

/* The screen stays awake while she works, if the browser can and she asks for it. */
var lock = null;
function keepAwake() {
  if (!("wakeLock" in navigator)) { return; }
  if (!ways.awake) { if (lock) { lock.release(); lock = null; } return; }
  if (document.visibilityState !== "visible") { return; }
  navigator.wakeLock.request("screen").then(function (got) { lock = got; }, function () { $("awake-no").hidden = false; });
}
document.addEventListener("visibilitychange", keepAwake);

function showMore() {
  $("more-left").checked = hand.mirrored;
  $("more-letters").checked = ways.letters;
  $("more-awake").checked = ways.awake;
  $("more-awake").disabled = !("wakeLock" in navigator);
  $("awake-no").hidden = "wakeLock" in navigator;
  $("voice-no").hidden = voice.there;
  $("more-speed").value = voice.rate;
  $("more-step").max = PASSES.length;
  $("more-step").value = Math.min(place.at + 1, PASSES.length);
  var own = ownPace();
  $("more-pace").textContent = own === null ? say("more_pace_none") : say("more_pace", { n: Math.round(own * 10) / 10 });
  $("more-band").replaceChildren.apply($("more-band"), kept.bands.map(function (_, n) {
    return el("option", { value: n, selected: n === kept.now }, say("more_band_n", { n: n + 1 }));
  }));
  $("more-restart").textContent = say("more_restart");
  $("more-restart").dataset.sure = "";
}
$("more").addEventListener("click", function () { showMore(); openPanel("more"); });
$("more-left").addEventListener("change", function () { hand.mirrored = ways.mirrored = $("more-left").checked; keepWays(); layOut(); show(); });
$("more-letters").addEventListener("change", function () { ways.letters = $("more-letters").checked; keepWays(); layOut(); show(); });
$("more-awake").addEventListener("change", function () { ways.awake = $("more-awake").checked; keepWays(); keepAwake(); });
$("more-speed").addEventListener("input", function () { voice.rate = ways.rate = Number($("more-speed").value); keepWays(); });
$("more-go").addEventListener("click", function () {
  var n = Math.round(Number($("more-step").value));
  if (n >= 1 && n <= PASSES.length) { closePanel(); goTo(n - 1); }
});
function takeBand(n) { kept.now = n; place = kept.bands[n]; stepBegun = 0; keepPlace(); show(); showMore(); }
$("more-band").addEventListener("change", function () { takeBand(Number($("more-band").value)); });
$("more-new").addEventListener("click", function () { kept.bands.push(newPlace()); takeBand(kept.bands.length - 1); });
$("more-restart").addEventListener("click", function () {
  if (!$("more-restart").dataset.sure) { $("more-restart").dataset.sure = "1"; $("more-restart").textContent = say("more_restart_sure"); return; }
  kept.bands[kept.now] = newPlace();
  takeBand(kept.now);
});
$("how").open = ways.how !== false;
$("how").addEventListener("toggle", function () { ways.how = $("how").open; keepWays(); });

var laidOut = 0;
function fit() {
  if (stage.clientWidth === laidOut) { return; }
  laidOut = stage.clientWidth;
  layOut();
  show();
}
window.addEventListener("resize", fit);
fit();
keepAwake();
setTimeout(warmUp, 300);
document.documentElement.dataset.ready = "1";
