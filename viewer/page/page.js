"use strict";
/* The page works without this: links then lead to the plan. */
for (const link of document.querySelectorAll("a.fly")) {
  link.addEventListener("click", () => link.closest(".finding").scrollIntoView({ block: "nearest" }));
}
