// Draws the API's description. In a file of its own because the page allows no inline scripts.
"use strict";

const place = document.getElementById("api-docs");

window.SwaggerUIBundle({
  url: place.dataset.schema,
  domNode: place,
  presets: [window.SwaggerUIBundle.presets.apis],
  layout: "BaseLayout",
  deepLinking: true,
  validatorUrl: null, // nothing is sent to anyone else
  supportedSubmitMethods: ["get", "post", "patch", "delete"],
  requestInterceptor: (request) => {
    request.headers["X-CSRFToken"] = place.dataset.csrf;
    return request;
  },
});
