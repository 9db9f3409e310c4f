/* trouble.h - an error as a value.
 *
 * Whoever finds the error fills one in; whoever can do something about it
 * handles or prints it, once. */
#ifndef SLUICE_CORE_TROUBLE_H
#define SLUICE_CORE_TROUBLE_H

#include <stdbool.h>

enum { TROUBLE_PLACE_MAX = 160, TROUBLE_TEXT_MAX = 320 };

struct trouble {
    char place[TROUBLE_PLACE_MAX]; /* "file:line:col", a topic, or "" */
    char text[TROUBLE_TEXT_MAX];   /* what was found, what was expected */
};

/* Fills in `trouble` and returns false, so that a finder can return it. */
bool trouble_set(struct trouble *trouble, const char *place, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
