// The filters live in the address: controls write it, and an opened address sets the controls.
(function () {
  const KINDS = ["trip", "body", "lens", "adapter", "verdict", "cause", "rating"];
  const OWN = new Set([...KINDS, "since", "until"]);

  const same = (one, other) => JSON.stringify(one || []) === JSON.stringify(other || []);

  function valuesFrom(search) {
    const query = new URLSearchParams(search || "");
    const several = KINDS.map((kind) => [...new Set(query.getAll(kind))]);
    return [...several, [query.get("since"), query.get("until")]];
  }

  function searchFrom(values, search) {
    const query = new URLSearchParams();
    KINDS.forEach((kind, place) => (values[place] || []).forEach((value) => query.append(kind, value)));
    const [since, until] = values[KINDS.length] || [];
    if (since) query.set("since", since);
    if (until) query.set("until", until);
    for (const [key, value] of new URLSearchParams(search || "")) if (!OWN.has(key)) query.append(key, value);
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
        const filters = searchFrom(valuesFrom(search), "");
        return ids.map((id) => id.path + filters);
      },

      keepTitle(title) {
        if (title) document.title = title;
        return title || "";
      },
    },
  });
})();
