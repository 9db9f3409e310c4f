/* put.h - a new text of the settings file: checked, told in plain sentences, put in its place with
 * the one before it kept, and put in force; or nothing changes. */
#ifndef SLUICE_TOOLS_CHANGE_PUT_H
#define SLUICE_TOOLS_CHANGE_PUT_H

#include "past.h"
#include "sluice/subcommand.h"

struct put_wish {
    const char *settings, *maps;
    bool try_only; /* say what would change, and change nothing */
};

/* `what`: for the log; NULL: it is made of what differs. `undoes`: as for past_add. */
enum status put_settings(const struct invocation *at, const struct put_wish *wish,
                         struct past *past, const char *what, int undoes, const char *bytes,
                         size_t size);

/* The whole file, to be freed; NULL after having complained. */
char *put_read(const char *path, size_t *size);

#endif
