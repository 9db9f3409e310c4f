/* terminal.h - a whole terminal for a while: keys one by one, a screen of its own, and all as it
 * was afterwards, also after a signal that nobody can catch.
 *
 * Sequences are ECMA-48's and the alternate screen of DEC terminals (?1049), which whatever shows
 * a terminal today has. */
#ifndef SLUICE_TOOLS_WATCH_TERMINAL_H
#define SLUICE_TOOLS_WATCH_TERMINAL_H

#include <stddef.h>

#include "core/trouble.h"

enum terminal_key {
    KEY_NONE = -1,   /* the time has passed */
    KEY_END = -2,    /* a signal, or the terminal has gone: leave */
    KEY_REDRAW = -3, /* another size, or back from a stop: nothing stands there any more */
    KEY_ESCAPE = 27,
    KEY_UP = 0x100, /* below it: bytes as typed */
    KEY_DOWN,
    KEY_OTHER,
};

struct terminal;

/* NULL: `trouble` says why standard input and output cannot be used so. */
struct terminal *terminal_open(struct trouble *trouble);
/* Waits for the next key, at most so long. */
int terminal_key(struct terminal *terminal, int wait_ms);
/* Columns and rows; 80 and 24 where it does not say. */
void terminal_size(int *columns, int *rows);
void terminal_write(const char *bytes, size_t count);
void terminal_close(struct terminal *terminal);

#endif
