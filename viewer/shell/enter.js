// Keeps the pass in this origin's storage and goes on to the plain address, without the key.
localStorage.setItem("datumray-pass", document.currentScript.dataset.pass);
location.replace("/");
