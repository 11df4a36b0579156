// A sheet's one button: the browser's own dialog prints it, or makes a PDF of it.
document.getElementById("print").addEventListener("click", () => print());
