/* watch.h - a live screen of the house. */
#ifndef SLUICE_TOOLS_WATCH_H
#define SLUICE_TOOLS_WATCH_H

extern const char watch_help[];

#endif
