# Pictures for tests/photograph.rs that the image crate can't write. Made with Python 3.11,
# pillow 13.0.0, pillow-heif (its own libheif), numpy 2.4.6. Run from tests/reference.
import numpy as np
import pillow_heif
from PIL import Image

# Upper left quarter red, the rest blue: tells every turn and mirroring apart.
pixels = np.zeros((48, 64, 3), np.uint8)
pixels[:] = (40, 40, 200)
pixels[:24, :32] = (220, 30, 30)
picture = Image.fromarray(pixels)

pillow_heif.register_heif_opener()
picture.save("pictures/upright.heic", quality=90)
# With an EXIF orientation only: in HEIF the file's own turning (irot, imir) counts, EXIF's is a
# remark (ISO/IEC 23008-12, A.2.1), so this one opens lying.
lying = picture.transpose(Image.ROTATE_90)
exif = Image.Exif()
exif[274] = 6
lying.save("pictures/lying.heic", quality=90, exif=exif)

# Four inks, as printers' scans have them; JPEG with Adobe's inverted values, and TIFF.
picture.convert("CMYK").save("pictures/cmyk.jpg", quality=95)
picture.convert("CMYK").save("pictures/cmyk.tif", compression="tiff_lzw")
# A progressive JPEG, a palette PNG and a black-and-white TIFF.
picture.save("pictures/progressive.jpg", quality=95, progressive=True)
picture.convert("P", palette=Image.ADAPTIVE).save("pictures/palette.png")
picture.convert("L").point(lambda v: 255 * (v > 65)).convert("1").save("pictures/bilevel.tif")
