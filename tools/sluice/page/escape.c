/* escape.c - XML 1.0, section 2.2: control characters may not stand even escaped. */
#include "escape.h"

void escape_put(FILE *to, const char *text)
{
    for (; *text; text++) {
        switch (*text) {
        case '&':
            fputs("&amp;", to);
            break;
        case '<':
            fputs("&lt;", to);
            break;
        case '>':
            fputs("&gt;", to);
            break;
        case '"':
            fputs("&quot;", to);
            break;
        default:
            fputc((unsigned char)*text < ' ' ? '?' : *text, to);
        }
    }
}
