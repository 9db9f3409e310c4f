/* svg.c - text that came from elsewhere is escaped; numbers have a point whatever
 * the locale, since this program never sets one. */
#include "svg.h"

#include "escape.h"

struct svg svg_begin(FILE *to, double width, double height, const char *title)
{
    fprintf(
        to,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.0f\" height=\"%.0f\" "
        "viewBox=\"0 0 %.0f %.0f\" font-family=\"'DejaVu Sans', Verdana, sans-serif\">\n<title>",
        width, height, width, height);
    escape_put(to, title);
    fputs("</title>\n", to);
    return (struct svg){to};
}

struct svg svg_begin_inline(FILE *to, double width, double height, const char *what)
{
    fprintf(to,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %.0f %.0f\" role=\"img\" "
            "aria-label=\"",
            width, height);
    escape_put(to, what);
    fputs("\" font-family=\"'DejaVu Sans', Verdana, sans-serif\">\n", to);
    return (struct svg){to};
}

void svg_end(struct svg *svg)
{
    fputs("</svg>\n", svg->to);
}

void svg_box(struct svg *svg, double x, double y, double width, double height, const char *colour,
             double radius)
{
    if (width <= 0 || height <= 0)
        return;
    fprintf(svg->to, "<rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" height=\"%.1f\" fill=\"%s\"", x, y,
            width, height, colour);
    /* Bars stand side by side: without crisp edges there are seams between them. */
    if (radius > 0)
        fprintf(svg->to, " rx=\"%.1f\"", radius);
    else
        fputs(" shape-rendering=\"crispEdges\"", svg->to);
    fputs("/>\n", svg->to);
}

void svg_line(struct svg *svg, double x1, double y1, double x2, double y2, const char *colour,
              double width, const char *dashes)
{
    fprintf(svg->to,
            "<line x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" y2=\"%.1f\" stroke=\"%s\" "
            "stroke-width=\"%.1f\"",
            x1, y1, x2, y2, colour, width);
    if (*dashes)
        fprintf(svg->to, " stroke-dasharray=\"%s\"", dashes);
    fputs("/>\n", svg->to);
}

void svg_circle(struct svg *svg, double x, double y, double radius, const char *colour)
{
    fprintf(svg->to, "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"%.1f\" fill=\"%s\"/>\n", x, y, radius,
            colour);
}

void svg_words(struct svg *svg, double x, double y, struct svg_font font, const char *text)
{
    static const char *const anchors[] = {
        [SVG_START] = "start", [SVG_MIDDLE] = "middle", [SVG_END] = "end"};
    fprintf(svg->to,
            "<text x=\"%.1f\" y=\"%.1f\" font-size=\"%.1f\" fill=\"%s\" text-anchor=\"%s\"", x, y,
            font.size, font.colour, anchors[font.anchor]);
    if (font.bold)
        fputs(" font-weight=\"bold\"", svg->to);
    fputc('>', svg->to);
    escape_put(svg->to, text);
    fputs("</text>\n", svg->to);
}

void svg_area_begin(struct svg *svg, double x, double y)
{
    fprintf(svg->to, "<path d=\"M%.1f %.1f", x, y);
}

void svg_area_to(struct svg *svg, double x, double y)
{
    fprintf(svg->to, "L%.1f %.1f", x, y);
}

void svg_area_end(struct svg *svg, const char *colour, const char *tooltip)
{
    fprintf(svg->to, "Z\" fill=\"%s\">", colour);
    if (*tooltip) {
        fputs("<title>", svg->to);
        escape_put(svg->to, tooltip);
        fputs("</title>", svg->to);
    }
    fputs("</path>\n", svg->to);
}
