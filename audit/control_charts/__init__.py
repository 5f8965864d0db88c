"""Charts over months: limits from a baseline, signals by published rules, funnels over shifts and sites."""
