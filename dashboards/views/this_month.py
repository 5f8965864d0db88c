"""To come."""

from dashboards import layout

layout.begin("this_month", "")
