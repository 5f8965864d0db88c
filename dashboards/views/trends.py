"""To come."""

from dashboards import layout

layout.begin("trends", "")
