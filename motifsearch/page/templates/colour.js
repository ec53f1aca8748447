/* Colours. Linear sRGB (IEC 61966-2-1); the views of colour-vision deficiency are the matrices of
   Machado, Oliveira and Fernandes, IEEE TVCG 15(6), 2009, severity 1, on linear sRGB, as the data
   brings them; the difference of two colours is CIEDE2000 (Sharma, Wu and Dalal, Color Res. Appl.
   30(1), 2005). */

var SIGHTS = DATA.sights;

function rgbOf(hex) {
  return [1, 3, 5].map(function (k) { return parseInt(hex.slice(k, k + 2), 16); });
}

function hexOf(rgb) {
  return "#" + rgb.map(function (v) { return (256 + Math.round(v)).toString(16).slice(1); }).join("");
}

function toLinear(v) {
  v /= 255;
  return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4);
}

function fromLinear(v) {
  v = Math.min(1, Math.max(0, v));
  return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * Math.pow(v, 1 / 2.4) - 0.055);
}

function seenAs(hex, sight) {
  var m = SIGHTS[sight].matrix;
  if (!m) { return hex; }
  var c = rgbOf(hex).map(toLinear);
  return hexOf([0, 3, 6].map(function (k) { return fromLinear(m[k] * c[0] + m[k + 1] * c[1] + m[k + 2] * c[2]); }));
}

/* L*a*b* under D65. */
function labOf(hex) {
  var c = rgbOf(hex).map(toLinear);
  var xyz = [
    (0.4123907993 * c[0] + 0.3575843394 * c[1] + 0.1804807884 * c[2]) / 0.9504559271,
    0.2126390059 * c[0] + 0.7151686788 * c[1] + 0.0721923154 * c[2],
    (0.0193308187 * c[0] + 0.1191947798 * c[1] + 0.9505321522 * c[2]) / 1.0890577508
  ].map(function (t) { return t > 216 / 24389 ? Math.cbrt(t) : (24389 / 27 * t + 16) / 116; });
  return [116 * xyz[1] - 16, 500 * (xyz[0] - xyz[1]), 200 * (xyz[1] - xyz[2])];
}

function ciede2000(one, two) { return ciede2000OfLab(labOf(one), labOf(two)); }

function ciede2000OfLab(p, q) {
  var rad = Math.PI / 180;
  var c1 = Math.hypot(p[1], p[2]), c2 = Math.hypot(q[1], q[2]);
  var c7 = Math.pow((c1 + c2) / 2, 7), g = 0.5 * (1 - Math.sqrt(c7 / (c7 + 6103515625)));
  var a1 = (1 + g) * p[1], a2 = (1 + g) * q[1];
  c1 = Math.hypot(a1, p[2]);
  c2 = Math.hypot(a2, q[2]);
  var h1 = c1 ? (Math.atan2(p[2], a1) / rad + 360) % 360 : 0;
  var h2 = c2 ? (Math.atan2(q[2], a2) / rad + 360) % 360 : 0;
  var dl = q[0] - p[0], dc = c2 - c1, dh = h2 - h1, hm = h1 + h2;
  if (c1 * c2 === 0) { dh = 0; }
  else {
    if (dh > 180) { dh -= 360; } else if (dh < -180) { dh += 360; }
    if (Math.abs(h1 - h2) > 180) { hm += hm < 360 ? 360 : -360; }
    hm /= 2;
  }
  var dH = 2 * Math.sqrt(c1 * c2) * Math.sin(dh * rad / 2);
  var lm = (p[0] + q[0]) / 2, cm = (c1 + c2) / 2, cm7 = Math.pow(cm, 7);
  var t = 1 - 0.17 * Math.cos((hm - 30) * rad) + 0.24 * Math.cos(2 * hm * rad) +
    0.32 * Math.cos((3 * hm + 6) * rad) - 0.2 * Math.cos((4 * hm - 63) * rad);
  var sl = 1 + 0.015 * Math.pow(lm - 50, 2) / Math.sqrt(20 + Math.pow(lm - 50, 2));
  var sc = 1 + 0.045 * cm, sh = 1 + 0.015 * cm * t;
  var rt = -2 * Math.sqrt(cm7 / (cm7 + 6103515625)) *
    Math.sin(60 * rad * Math.exp(-Math.pow((hm - 275) / 25, 2)));
  return Math.sqrt(Math.pow(dl / sl, 2) + Math.pow(dc / sc, 2) + Math.pow(dH / sh, 2) + rt * (dc / sc) * (dH / sh));
}
