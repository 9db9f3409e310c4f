/* denied.h - what can keep a due floor from being served, in words. */
#ifndef SLUICE_DAEMON_DENIED_H
#define SLUICE_DAEMON_DENIED_H

#include "rules/rules.h"

/* "the supply limit"; "": nothing does. */
const char *denied_text(enum denied_by cause);

#endif
