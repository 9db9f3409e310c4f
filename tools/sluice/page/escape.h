/* escape.h - text that came from elsewhere, in HTML and in SVG. */
#ifndef SLUICE_TOOLS_ESCAPE_H
#define SLUICE_TOOLS_ESCAPE_H

#include <stdio.h>

void escape_put(FILE *to, const char *text);

#endif
