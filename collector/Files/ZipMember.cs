namespace Cardassay.Collector.Files;

/// <summary>One file inside a zip, as its directory and its own header both state it.</summary>
/// <param name="Name">Its name, as stored.</param>
/// <param name="IsDeflated">True where it is compressed, false where it is stored as it is.</param>
/// <param name="Crc32">Checksum of its content.</param>
/// <param name="CompressedBytes">Bytes it takes in the zip.</param>
/// <param name="Bytes">Bytes of its content.</param>
/// <param name="At">Where its bytes begin in the zip.</param>
internal sealed record ZipMember(string Name, bool IsDeflated, uint Crc32, long CompressedBytes, long Bytes, long At);
