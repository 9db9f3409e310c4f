/* words.h - what several edges put into words. */
#ifndef SLUICE_DAEMON_WORDS_H
#define SLUICE_DAEMON_WORDS_H

#include "site.h"

/* "2026-01-14T10:00:00+11:00" (RFC 3339). */
void time_text(const struct zone *zone, struct wall wall, struct text *text);
/* Its reason, with the names of loads. */
void decision_text(const struct site *site, const struct decision *decision, struct text *text);
void reason_text(const struct site *site, uint16_t load, struct text *text);

#endif
