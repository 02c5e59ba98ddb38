"""From a chord chart to a bass part, a band to practise with, and the pages to hand on."""
