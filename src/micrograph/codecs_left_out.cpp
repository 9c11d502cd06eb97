// TIFF codecs that this program does not read, closed so that their libraries (one of them GPL) are
// not linked: the static libtiff asks for these five names when it registers its codecs. A picture
// packed with one of them is refused like any unknown packing.
#include <tiffio.h>

extern "C" {

int TIFFInitJBIG(TIFF*, int);
int TIFFInitWebP(TIFF*, int);
int TIFFInitLERC(TIFF*, int);
int TIFFInitLZMA(TIFF*, int);
int TIFFInitZSTD(TIFF*, int);

int TIFFInitJBIG(TIFF*, int) { return 0; }
int TIFFInitWebP(TIFF*, int) { return 0; }
int TIFFInitLERC(TIFF*, int) { return 0; }
int TIFFInitLZMA(TIFF*, int) { return 0; }
int TIFFInitZSTD(TIFF*, int) { return 0; }

}  // extern "C"
