"""The strip on the screen: a component of our own, drawn in the browser."""
