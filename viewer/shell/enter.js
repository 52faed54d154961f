// Keeps the pass in this origin's storage and goes on to the plain address, without the key. Not before this page has
// come whole: a browser breaks off what is still on its way, and says that the page failed.
localStorage.setItem("datumray-pass", document.currentScript.dataset.pass);
addEventListener("load", () => location.replace("/"));
