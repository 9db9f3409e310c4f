/* caution.h - what is said wherever a fault's first job is behind a cover. */
#ifndef SLUICE_TERMS_CAUTION_H
#define SLUICE_TERMS_CAUTION_H

#define ISOLATE " Isolate before opening; licensed practice and local codes apply."

#endif
