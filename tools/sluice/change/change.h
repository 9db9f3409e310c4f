/* change.h - settings changed from afar, one by one, with a way back. */
#ifndef SLUICE_TOOLS_CHANGE_H
#define SLUICE_TOOLS_CHANGE_H

extern const char set_help[], undo_help[], diff_help[], history_help[];

#endif
