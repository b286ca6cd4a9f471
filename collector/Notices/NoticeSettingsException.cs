namespace Cardassay.Collector.Notices;

/// <summary>The settings cannot be used. The message names the file, the key and the remedy, and no secret.</summary>
internal sealed class NoticeSettingsException(string message) : Exception(message);
