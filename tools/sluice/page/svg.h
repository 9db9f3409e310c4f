/* svg.h - the few shapes that a picture of a day is made of (SVG 1.1). */
#ifndef SLUICE_TOOLS_SVG_H
#define SLUICE_TOOLS_SVG_H

#include <stdio.h>

struct svg {
    FILE *to;
};

enum svg_anchor { SVG_START, SVG_MIDDLE, SVG_END };

struct svg_font {
    double size;
    const char *colour;
    enum svg_anchor anchor;
    int bold; /* 0 or 1 */
};

struct svg svg_begin(FILE *to, double width, double height, const char *title);
/* Within a page of HTML, as wide as there is room. */
struct svg svg_begin_inline(FILE *to, double width, double height, const char *what);
void svg_end(struct svg *svg);

void svg_box(struct svg *svg, double x, double y, double width, double height, const char *colour,
             double radius);
void svg_line(struct svg *svg, double x1, double y1, double x2, double y2, const char *colour,
              double width, const char *dashes); /* "" for a whole line */
void svg_circle(struct svg *svg, double x, double y, double radius, const char *colour);
void svg_words(struct svg *svg, double x, double y, struct svg_font font, const char *text);

/* An area, point by point. */
void svg_area_begin(struct svg *svg, double x, double y);
void svg_area_to(struct svg *svg, double x, double y);
void svg_area_end(struct svg *svg, const char *colour, const char *tooltip); /* "": none */

#endif
