// The filters live in the address: controls write it, and an opened address sets the controls.
(function () {
  const KINDS = ["trip", "body", "lens", "adapter", "verdict", "cause", "rating"];
  const OWN = new Set([...KINDS, "since", "until"]);

  const same = (one, other) => JSON.stringify(one || []) === JSON.stringify(other || []);

  const day = (end) => (end ? end.slice(0, 10) : end); // a link to a stretch of frames holds the minute, too

  function valuesFrom(search) {
    const query = new URLSearchParams(search || "");
    const several = KINDS.map((kind) => [...new Set(query.getAll(kind))]);
    return [...several, ["since", "until"].map((end) => day(query.get(end)))];
  }

  function searchFrom(values, search, withRest = true) {
    const query = new URLSearchParams();
    KINDS.forEach((kind, place) => (values[place] || []).forEach((value) => query.append(kind, value)));
    const [since, until] = values[KINDS.length] || [];
    const before = new URLSearchParams(search || "");
    for (const [key, chosen] of [["since", since], ["until", until]]) {
      if (chosen) query.set(key, day(before.get(key)) === day(chosen) ? before.get(key) : chosen);
    }
    for (const [key, value] of before) if (withRest && !OWN.has(key)) query.append(key, value);
    const written = query.toString();
    return written ? `?${written}` : "";
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    steadykeep: {
      keepAddress(search, ...values) {
        const leave = window.dash_clientside.no_update;
        const pressed = (window.dash_clientside.callback_context.triggered || []).map((one) => one.prop_id);
        const byHand = pressed.some((prop) => prop.startsWith("filter-")) && !pressed.includes("address.search");
        if (!byHand) {
          const wanted = valuesFrom(search);
          return [leave, ...wanted.map((value, place) => (same(value, values[place]) ? leave : value))];
        }
        const [since, until] = values[KINDS.length] || [];
        if (Boolean(since) !== Boolean(until)) return [leave, ...values.map(() => leave)]; // half a range: wait
        const written = searchFrom(values, search);
        return [written === (search || "") ? leave : written, ...values.map(() => leave)];
      },

      keepLinks(path, search, ids) {
        document.querySelectorAll("nav .nav-link").forEach((link) => {
          if (link.getAttribute("href").split("?")[0] === path) link.setAttribute("aria-current", "page");
          else link.removeAttribute("aria-current");
        });
        const filters = searchFrom(valuesFrom(search), search, false);
        return ids.map((id) => id.path + filters);
      },

      holdFile(contents, names) {
        // Read here and not in the library's own limit, which passes over a file that is too big without a word.
        const place = (contents || []).findIndex(Boolean);
        if (place < 0) return [window.dash_clientside.no_update, ""];
        if (contents[place].length > 4e6) return [null, `${names[place]} is larger than 3 MB; nothing was read.`];
        return [{ name: names[place], content: contents[place] }, "Reading…"];
      },

      showForm(picked) {
        const form = document.getElementById("log-form");
        if (picked && form) {
          form.scrollIntoView({ block: "start" });
          setTimeout(() => (form.querySelector("input") || form).focus({ preventScroll: true }), 50);
        }
        return window.dash_clientside.no_update;
      },

      nameFile() {
        // The library's field for a file, which comes late, has no name of its own for a screen reader to say.
        const place = document.getElementById("log-choose");
        const name = () => place.querySelectorAll("input[type=file]:not([aria-label])").forEach((input) => {
          input.setAttribute("aria-label", "A CSV with rows for the log");
          input.tabIndex = -1;
        });
        if (place && !place.watched) {
          place.watched = new MutationObserver(name);
          place.watched.observe(place, { childList: true, subtree: true });
          name();
        }
        return window.dash_clientside.no_update;
      },

      keepTitle(title) {
        if (title) document.title = title;
        return title || "";
      },
    },
  });
})();
