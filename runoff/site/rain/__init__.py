"""Rain: tables of it, the files they come in, what a site file says, and what each use takes."""
