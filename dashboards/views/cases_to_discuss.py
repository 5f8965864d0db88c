"""To come."""

from dashboards import layout

layout.begin("cases_to_discuss", "")
