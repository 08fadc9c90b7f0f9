"""Pictures that several pages share, as SVG: drawn from data, with a text beside each."""
