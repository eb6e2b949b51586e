// Opens a dialog that is answered with yes or no.
"use strict";

// answered opens it and says whether the answer was yes.
export function answered(dialog) {
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((done) => {
    dialog.onclose = () => {
      if (dialog.open) return; // the end of an earlier one, told late
      dialog.onclose = null;
      done(dialog.returnValue === "yes");
    };
  });
}
