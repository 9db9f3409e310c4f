/* screen_load.h - one load on the screen. */
#ifndef SLUICE_TOOLS_SCREEN_LOAD_H
#define SLUICE_TOOLS_SCREEN_LOAD_H

#include <cjson/cJSON.h>
#include <stdint.h>

#include "sluice/page/page.h"

/* Its block of lines. `findings`: of all; `today`: the day of local time that it is there. */
void screen_print_load(struct page *page, const cJSON *load, const cJSON *findings, int32_t today);
/* What it does and why, its orders and what is guaranteed: no more. */
void screen_print_load_short(struct page *page, const cJSON *load, int32_t today);

#endif
