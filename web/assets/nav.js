// On a small screen the names of the pages scroll: that of this page is in sight.
"use strict";
const names = document.querySelector(".top nav"), here = names.querySelector("[aria-current]");
if (here) names.scrollLeft = here.offsetLeft - (names.clientWidth - here.offsetWidth) / 2;
