"use strict";
(function () {
  var box = document.getElementById("find"), answer = document.getElementById("answer");
  var table = document.getElementById("tested"), fold = document.getElementById("every");
  var rows = Array.prototype.slice.call(table.tBodies[0].rows);
  var none = table.getAttribute("data-none");

  function words(text) {
    return text.toLowerCase().normalize("NFKD").replace(/[\u0300-\u036f]/g, "");
  }
  function code(text) {
    return words(text).replace(/[^a-z0-9]/g, "").replace(/(^|[^0-9])0+(?=[0-9])/g, "$1");
  }
  function matching(typed) {
    var whole = code(typed), digits = /^[0-9]+$/.test(whole) ? whole : "";
    var parts = words(typed).split(/\s+/).filter(Boolean);
    var exact = rows.filter(function (row) { return whole && row.getAttribute("data-code") === whole; });
    if (exact.length) { return exact; }
    var carded = rows.filter(function (row) {
      return whole && (row.getAttribute("data-cards") || "").split(" ").indexOf(whole) >= 0;
    });
    if (carded.length) { return carded; }
    var numbered = rows.filter(function (row) { return digits && row.getAttribute("data-digits") === digits; });
    if (numbered.length) { return numbered; }
    return rows.filter(function (row) {
      var own = row.getAttribute("data-words");
      return parts.every(function (part) {
        return own.indexOf(part) >= 0 || (code(part) && row.getAttribute("data-code") === code(part));
      });
    });
  }
  function say(found) {
    if (!found.length) { answer.textContent = none; return; }
    answer.textContent = found.length === 1 ? "One that we tested:" : found.length + " that we tested:";
  }
  function look() {
    var typed = box.value.trim();
    var found = typed ? matching(typed) : rows;
    rows.forEach(function (row) { row.hidden = found.indexOf(row) < 0; });
    table.hidden = !found.length;
    fold.open = Boolean(typed);
    if (typed) { say(found); } else { answer.textContent = ""; }
  }
  var folds = Array.prototype.slice.call(document.querySelectorAll("details")), were = [];
  var home = document.getElementById("home"), results = document.getElementById("results");
  var moved = document.getElementById("moved");
  function above() {
    results.appendChild(fold);
    moved.hidden = false;
  }
  window.addEventListener("beforeprint", function () {
    were = folds.map(function (one) { return one.open; });
    home.appendChild(fold);
    moved.hidden = true;
    table.hidden = false;
    rows.forEach(function (row) { row.hidden = false; });
    folds.forEach(function (one) { one.open = true; });
  });
  window.addEventListener("afterprint", function () {
    above();
    look();
    folds.forEach(function (one, at) { one.open = were[at]; });
  });
  above();
  document.getElementById("below").hidden = true;
  document.getElementById("finder").hidden = false;
  fold.open = false;
  box.addEventListener("input", look);
  box.value = "";
  function linked() {
    var named = /^#find=(.*)$/.exec(location.hash);
    if (named) {
      try { box.value = decodeURIComponent(named[1]); } catch (error) { box.value = named[1]; }
      look();
    }
  }
  window.addEventListener("hashchange", linked);
  linked();
}());
