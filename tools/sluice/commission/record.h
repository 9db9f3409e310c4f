/* record.h - what was commissioned, and what it came to, on paper. */
#ifndef SLUICE_TOOLS_RECORD_H
#define SLUICE_TOOLS_RECORD_H

#include "sluice/subcommand.h"
#include "walk.h"

/* NAME.md as Markdown, NAME.html for A4; without either ending both. Says which were written. */
enum status record_write(const struct session *session, const char *settings_path,
                         const char *name);

#endif
