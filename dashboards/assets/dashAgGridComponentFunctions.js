// The picture in the list of frames: a link to the frame's own page, turned to without loading everything anew.
(function () {
  const components = (window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {});

  function turnTo(event) {
    if (event.ctrlKey || event.metaKey || event.shiftKey || event.button) return; // a new tab is the browser's affair
    event.preventDefault();
    window.history.pushState({}, "", event.currentTarget.getAttribute("href"));
    window.dispatchEvent(new CustomEvent("_dashprivate_pushstate"));
    window.scrollTo(0, 0);
  }

  components.FramePicture = function (props) {
    if (!props.data) return null; // the row is still on its way
    const picture = React.createElement("img", {
      src: `/picture/small/${props.data.key}.webp`, alt: "", loading: "lazy", decoding: "async", className: "thumb",
    });
    const look = { href: props.data.href, onClick: turnTo, className: "thumb-link", "aria-label": `Look at ${props.data.file}` };
    return React.createElement("a", look, picture);
  };
})();
