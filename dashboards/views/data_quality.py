"""To come."""

from dashboards import layout

layout.begin("data_quality", "")
