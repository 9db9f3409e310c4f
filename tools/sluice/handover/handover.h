/* handover.h - handing a house over: pages for it, a backup of it, and that put in place. */
#ifndef SLUICE_TOOLS_HANDOVER_H
#define SLUICE_TOOLS_HANDOVER_H

extern const char handover_help[], backup_help[], restore_help[];

#endif
