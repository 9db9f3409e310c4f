/* data.h - the help of `sluice data`. */
#ifndef SLUICE_TOOLS_DATA_H
#define SLUICE_TOOLS_DATA_H

extern const char data_help[];

#endif
