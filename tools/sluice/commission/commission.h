/* commission.h - `sluice commission`: at the switchboard, step by step, until what was fitted is
 * shown to be what the settings say; and a record of it. */
#ifndef SLUICE_TOOLS_COMMISSION_H
#define SLUICE_TOOLS_COMMISSION_H

extern const char commission_help[];

#endif
