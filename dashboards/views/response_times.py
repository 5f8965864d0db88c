"""To come."""

from dashboards import layout

layout.begin("response_times", "")
